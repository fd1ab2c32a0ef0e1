// What helps in a form: nothing is sent twice by a nervous finger, and nothing that was typed is
// lost by leaving the page. Every form works without it.
"use strict";
(() => {
  const root = document.documentElement;
  try {
    const look = localStorage.getItem("look");
    if (look && look !== "auto") root.dataset.look = look;
  } catch { /* The look of this page is the browser's. */ }

  // Where the way is pushed sideways, the station that one is at is in sight.
  const here = document.querySelector(".way .here");
  if (here) {
    const way = here.parentElement;
    way.scrollLeft = here.offsetLeft - (way.clientWidth - here.offsetWidth) / 2;
  }

  for (const form of document.querySelectorAll("form.sheet")) {
    let sent = false;
    form.addEventListener("submit", (event) => {
      if (sent) event.preventDefault();
      sent = true;
      // A page that comes back from the browser's memory can be sent again.
      setTimeout(() => { sent = false; }, 2000);
    });
  }
  // What is plugged in is kept fresh; a page that nobody sees asks for nothing.
  const fresh = async () => {
    const old = document.querySelector("[data-fresh]");
    if (!old || document.hidden) return;
    try {
      const answer = await fetch(old.dataset.fresh);
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const now = page.querySelector("[data-fresh]");
      // Whoever has the link in hand keeps it, and nothing is read out twice.
      if (now && !now.isEqualNode(old) && !old.contains(document.activeElement)) {
        old.replaceChildren(...now.childNodes);
      }
    } catch { /* The program is closed, or starts again: asked again soon. */ }
  };
  if (document.querySelector("[data-fresh]")) setInterval(fresh, 3000);

  // What a form comes to, while it is being typed. Without this there is a button for it.
  for (const form of document.querySelectorAll("form[data-live]")) {
    let last = 0;
    let asked = 0;
    form.addEventListener("input", () => {
      clearTimeout(last);
      last = setTimeout(async () => {
        const mine = ++asked;
        const headers = { "content-type": "application/x-www-form-urlencoded" };
        const body = new URLSearchParams(new FormData(form)).toString();
        try {
          const answer = await fetch(form.dataset.live, { method: "POST", headers, body });
          const made = new DOMParser().parseFromString(await answer.text(), "text/html");
          // An answer that was overtaken, or is none of the station's, changes nothing.
          if (!answer.ok || mine !== asked) return;
          for (const part of made.querySelectorAll("[data-to]")) {
            const place = document.getElementById(part.dataset.to);
            if (place) place.replaceChildren(...part.childNodes);
          }
        } catch { /* The program is not there; the button says so. */ }
      }, 300);
    });
  }
  const wrong = document.querySelector("[aria-invalid=true]");
  if (wrong) wrong.focus();
})();
