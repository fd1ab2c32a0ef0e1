// What helps in a form: nothing is sent twice by a nervous finger, and nothing that was typed is
// lost by leaving the page. Every form works without it.
"use strict";
(() => {
  const root = document.documentElement;
  try {
    const look = localStorage.getItem("look");
    if (look && look !== "auto") root.dataset.look = look;
  } catch { /* The look of this page is the browser's. */ }

  for (const form of document.querySelectorAll("form.sheet")) {
    let sent = false;
    form.addEventListener("submit", (event) => {
      if (sent) event.preventDefault();
      sent = true;
      // A page that comes back from the browser's memory can be sent again.
      setTimeout(() => { sent = false; }, 2000);
    });
  }
  const wrong = document.querySelector("[aria-invalid=true]");
  if (wrong) wrong.focus();
})();
