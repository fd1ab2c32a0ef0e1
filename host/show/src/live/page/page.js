// Puts what the program sends into its places and sends presses. All words come from the program;
// nothing is ever taken for markup.
"use strict";
(() => {
  const STALE_MS = 2000;
  const AGAIN_MS = 3000;
  const BANNER_MS = 10000;
  const CALM_MS = 5000;
  const BOUNCE_MS = 400;
  const GIVE_UP_MS = 60000;
  const OFFER_MS = 10000;
  const OWN = { "X-Requested-By": "trundle" };

  const said = JSON.parse(document.body.dataset.say);
  const at = (id) => document.getElementById(id);
  const wait = (ms) => new Promise((done) => setTimeout(done, ms));
  const hex = () => {
    const bits = crypto.getRandomValues(new Uint8Array(8));
    return Array.from(bits, (b) => b.toString(16).padStart(2, "0")).join("");
  };
  const say = (node, words) => {
    if (node && node.textContent !== words) node.textContent = words;
  };
  const make = (name, kind, words) => {
    const node = document.createElement(name);
    if (kind) node.className = kind;
    if (words !== undefined) node.textContent = words;
    return node;
  };

  // The look of the page.
  const root = document.documentElement;
  const saved = (() => { try { return localStorage.getItem("look"); } catch { return null; } })();
  const setLook = (look) => {
    if (look && look !== "auto") root.dataset.look = look;
    else delete root.dataset.look;
    for (const button of document.querySelectorAll("button[data-look]")) {
      button.setAttribute("aria-pressed", String(button.dataset.look === (look || "auto")));
    }
    try { localStorage.setItem("look", look || "auto"); } catch { /* It lasts for this page. */ }
  };
  for (const button of document.querySelectorAll("button[data-look]")) {
    button.addEventListener("click", () => setLook(button.dataset.look));
  }
  setLook(saved);

  // The newest data, and when they were received.
  let now = null;
  let receivedAt = performance.now();
  let ever = false;
  let drawn = {};
  const changed = (part) => {
    const text = JSON.stringify(now[part]);
    if (drawn[part] === text) return false;
    drawn[part] = text;
    return true;
  };
  const list = (id, part, build) => {
    if (!at(id) || !changed(part)) return;
    at(id).replaceChildren(...now[part].map(build));
    at(id).hidden = now[part].length === 0;
  };

  const since = (time) => (time ? said.since + time : said.never);
  const lost = () => performance.now() - receivedAt > STALE_MS;

  const showMain = () => {
    const value = now.main;
    say(at("main-label"), value.label);
    say(at("main"), value.value);
    say(at("main-unit"), value.unit);
    const stale = lost() ? now.at : value.stale;
    at("main").closest("section").classList.toggle("stale", stale !== null);
    say(at("main-since"), stale === null ? "" : since(stale));
  };
  const showSpeeds = (part) => {
    const isLost = lost();
    const text = JSON.stringify([now[part], isLost]);
    if (drawn[part] === text) return;
    drawn[part] = text;
    at(part).hidden = now[part].length === 0;
    at(part).replaceChildren(...now[part].map((value) => {
      const stale = isLost && value.unit ? now.at : value.stale;
      const block = make("div", stale === null ? "" : "stale");
      const shown = make("dd");
      shown.append(make("span", "value-number", value.value), " " + value.unit);
      if (stale !== null) shown.append(make("span", "value-since", since(stale)));
      block.append(make("dt", "", value.label), shown);
      return block;
    }));
  };
  const line = (entry) => {
    const block = make("div", entry.beware ? "beware" : "");
    block.append(make("dt", "", entry.label), make("dd", "", entry.words));
    return block;
  };
  const showLinks = () => {
    const isLost = lost();
    const text = JSON.stringify([now.links, isLost]);
    if (drawn.links === text) return;
    drawn.links = text;
    const old = (entry) => ({ label: entry.label, words: since(now.at), beware: true });
    at("links").hidden = now.links.length === 0;
    at("links").replaceChildren(...now.links.map((entry) => line(isLost ? old(entry) : entry)));
  };
  const showStrip = () => {
    if (!at("strip")) return;
    const strip = now.strip;
    const known = strip.at !== null;
    at("strip-at").setAttribute("visibility", known ? "visible" : "hidden");
    at("strip-at").setAttribute("transform", "translate(" + (known ? strip.at : 0) + " 0)");
    const done = known ? Math.min(1000, Math.max(0, strip.at)) : 0;
    at("strip-done").setAttribute("x2", String(done));
    at("strip").classList.toggle("stale", strip.stale || lost());
    say(at("strip-words"), strip.words);
  };
  const showSlip = () => {
    const slip = now.slip;
    if (!slip || !at("map") || !changed("slip")) return;
    at("totals").replaceChildren(...slip.totals.map(line));
    at("sections").replaceChildren(...slip.sections.map((words) => make("li", "", words)));
    if (slip.map === 0) return;
    at("map").src = "/map.svg?" + slip.map;
    at("map").alt = slip.map_words;
    at("map").hidden = false;
    say(at("map-words"), slip.map_words);
  };
  const showPicture = () => {
    const picture = now.picture;
    if (!picture || !at("map") || !changed("picture")) return;
    at("map").src = "/map.svg?" + picture.number;
    at("map").alt = picture.words;
    at("map").hidden = false;
    say(at("map-words"), picture.words);
  };
  const check = (row) => {
    const kind = row.beware ? "refused" : row.done ? "" : "open";
    const item = make("li", kind);
    const sign = make("span", "sign", row.sign);
    sign.setAttribute("aria-hidden", "true");
    item.append(sign, make("p", "pass-head", row.label + said.state + row.state));
    if (row.words) item.append(make("p", "", row.words));
    if (row.next) item.append(make("p", "check-next", row.next));
    return item;
  };
  const showCourse = () => {
    const course = now.course;
    if (!course || !at("course-map") || !changed("course")) return;
    at("course-map").src = "/map.svg?" + course.map;
    at("course-map").alt = course.map_words;
    say(at("course-words"), course.map_words);
    at("course-rows").replaceChildren(...course.rows.map((cells) => {
      const row = make("tr");
      row.append(...cells.map((words) => make("td", "", words)));
      return row;
    }));
    for (const id of ["course-map", "course-table"]) at(id).hidden = false;
  };
  // The sentence leads to its entry in the handbook, beside the job.
  const found = (name, finding) => {
    if (!finding.entry) return make(name, "", finding.words);
    const node = make(name);
    const to = make("a", "entry", finding.words);
    to.href = said.handbook + finding.entry;
    to.target = "_blank";
    to.rel = "noopener";
    node.append(to);
    return node;
  };
  const pass = (row) => {
    const item = make("li", row.sign === "!" ? "flagged" : row.sign === "\u2715" ? "refused" : "");
    const sign = make("span", "sign", row.sign);
    sign.setAttribute("aria-hidden", "true");
    const way = row.way === "-" ? "" : said.direction + row.way;
    item.append(sign, make("p", "pass-head", said.pass + row.number + way + said.state + row.state));
    if (row.values) item.append(make("p", "", row.values));
    for (const why of row.why) item.append(found("p", why));
    return item;
  };
  const enable = (id, part) => {
    const button = at(id);
    if (!button) return;
    const on = part.on && !lost() && !(sending && button.classList.contains("mark"));
    say(button, part.words);
    button.setAttribute("aria-disabled", String(!on));
  };
  const show = () => {
    if (!now) return;
    say(at("at"), now.at);
    say(at("next"), now.next);
    at("practice").hidden = !now.practice;
    showMain();
    showSpeeds("speeds");
    showSpeeds("bus");
    showStrip();
    showSlip();
    showPicture();
    list("checks", "checks", check);
    if (at("no-check")) at("no-check").hidden = now.checks.length > 0;
    showLinks();
    list("figures", "figures", line);
    list("onward", "onward", (entry) => line({ ...entry, beware: false }));
    showCourse();
    list("troubles", "troubles", (trouble) => found("li", trouble));
    list("said", "said", (words) => make("li", "", words));
    list("lines", "lines", (words) => make("li", "", words));
    list("passes", "passes", pass);
    if (at("no-pass")) at("no-pass").hidden = now.passes.length > 0;
    say(at("ending-words"), now.ending);
    say(at("last-mark"), now.last_mark);
    enable("start", now.start);
    enable("finish", now.finish);
    enable("undo", now.undo);
    enable("reject", now.reject);
  };

  // For screen readers, at most every five seconds.
  let calmed = -CALM_MS;
  let urgent = "";
  const calm = () => {
    if (performance.now() - calmed < CALM_MS) return;
    const words = urgent || (now ? now.next : "");
    if (!words || at("calm").textContent === words) return;
    say(at("calm"), words);
    urgent = "";
    calmed = performance.now();
  };

  // The stream. One that is silent is given up and begun again.
  const me = hex();
  let tried = performance.now();
  let drop = () => {};
  let refused = "";
  const take = (block) => {
    const data = block.split("\n").filter((row) => row.startsWith("data: "));
    if (data.length === 0) return;
    now = JSON.parse(data.map((row) => row.slice(6)).join(""));
    // The page was made before the job showed what it is: it is asked for anew.
    if (!now.over && now.kind !== document.body.dataset.kind) return location.reload();
    receivedAt = performance.now();
    ever = true;
    refused = "";
    show();
    if (now.over) over();
  };
  // The job is over: the result comes while the program still answers, and stays.
  let ended = false;
  const over = () => {
    ended = true;
    at("over").hidden = false;
    say(at("over"), now.over);
    location.assign(document.body.dataset.after);
  };
  const listen = async () => {
    while (!ended) {
      const stop = new AbortController();
      drop = () => stop.abort();
      tried = performance.now();
      try {
        const ask = { headers: OWN, signal: stop.signal, cache: "no-store" };
        const answer = await fetch("/now?page=" + me, ask);
        if (answer.status === 200) {
          const reader = answer.body.getReader();
          const text = new TextDecoder();
          let rest = "";
          for (;;) {
            const { value, done } = await reader.read();
            if (done) break;
            const blocks = (rest + text.decode(value, { stream: true })).split("\n\n");
            rest = blocks.pop();
            if (blocks.length > 0) take(blocks[blocks.length - 1]);
          }
        } else {
          refused = await answer.text();
          await wait(AGAIN_MS);
        }
      } catch { /* Begun again below. */ }
      await wait(300);
    }
  };
  setInterval(() => {
    const quiet = performance.now() - receivedAt;
    if (quiet > AGAIN_MS && performance.now() - tried > AGAIN_MS) drop();
    const banner = quiet > BANNER_MS || refused !== "";
    at("quiet").hidden = !banner || ended;
    if (banner) say(at("quiet-since"), refused || since(ever ? now.at : ""));
    if (banner) urgent = at("quiet").textContent;
    if (quiet > STALE_MS) show();
    calm();
  }, 250);

  // Presses. Sent again under the same key until there is an answer.
  let sending = false;
  let bounced = -BOUNCE_MS;
  const confirm = (kind, words, place) => {
    const node = at(place || "confirm");
    node.className = "confirm " + kind;
    say(node, words);
    urgent = words;
  };
  const give = async (path, body, place) => {
    const began = performance.now();
    const text = JSON.stringify({ key: hex(), ...body });
    confirm("open", said.sent, place);
    while (performance.now() - began < GIVE_UP_MS) {
      const stop = new AbortController();
      const timer = setTimeout(() => stop.abort(), AGAIN_MS + 1000);
      try {
        const headers = { ...OWN, "Content-Type": "application/json" };
        const ask = { method: "POST", headers, body: text, signal: stop.signal, cache: "no-store" };
        const answer = await fetch(path, ask);
        if (answer.status !== 200 && answer.status !== 503) {
          confirm("bad", await answer.text(), place);
          return false;
        }
        if (answer.status === 200) {
          const outcome = await answer.json();
          if (outcome.answer !== "waiting") {
            confirm(outcome.stands ? "good" : "bad", outcome.words, place);
            if (navigator.vibrate) navigator.vibrate(outcome.stands ? 60 : [60, 80, 60]);
            return outcome.stands;
          }
        }
        confirm("open", said.asking, place);
      } catch {
        confirm("open", said.unreachable, place);
      } finally {
        clearTimeout(timer);
      }
      await wait(500);
    }
    confirm("bad", said.unknown, place);
    return false;
  };
  const off = (button) => button.getAttribute("aria-disabled") === "true";
  const marks = async (button, part) => {
    const time = performance.now();
    if (off(button) || sending || time - bounced < BOUNCE_MS) return;
    bounced = time;
    sending = true;
    button.classList.add("pressed");
    const meant = now[part];
    show();
    await give(part === "undo" ? "/undo" : "/mark", { number: meant.number, end: meant.end });
    button.classList.remove("pressed");
    bounced = performance.now();
    sending = false;
    show();
  };
  for (const part of ["start", "finish", "undo"]) {
    const button = at(part);
    if (button) button.addEventListener("click", () => marks(button, part));
  }
  const writes = (form, input, send) => {
    if (!at(form)) return;
    at(form).addEventListener("submit", async (event) => {
      event.preventDefault();
      const text = at(input).value.trim();
      if (!text) at(input).focus();
      else if (await send(text)) at(input).value = "";
    });
  };
  writes("note-form", "note", async (text) => {
    const done = await give("/note", { text: at("about").value + text });
    // What is typed next is a plain note again, unless that is said.
    if (done) at("about").value = "";
    return done;
  });
  writes("reject-form", "reason", (text) =>
    !off(at("reject")) && give("/reject", { text, number: now.reject.number }));
  for (const form of document.querySelectorAll("form.line")) {
    const input = form.querySelector("input");
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const typed = input ? input.value.trim() : "";
      if (input && !typed) input.focus();
      else if (await give("/line", { text: form.dataset.typed + typed }, "line-confirm")) {
        if (input) input.value = "";
      }
    });
  }
  if (at("work")) {
    at("work").addEventListener("click", async () => {
      if (await give("/result", {})) location.assign("/result");
    });
  }

  // Finishing: the second press is offered for some seconds, elsewhere than the first.
  let folding;
  const fold = (open) => {
    clearTimeout(folding);
    at("ending").hidden = !open;
    at("end").setAttribute("aria-expanded", String(open));
    if (open) folding = setTimeout(() => fold(false), OFFER_MS);
  };
  if (at("end")) {
    at("end").addEventListener("click", () => fold(at("ending").hidden));
    at("end-not").addEventListener("click", () => { fold(false); at("end").focus(); });
    at("end-now").addEventListener("click", () => { fold(false); give("/end", {}); });
  }

  // The screen stays on while the page is seen. Browsers allow that on this computer, and else
  // only over an encrypted connection: there it stays said what to set by hand.
  const awake = async () => {
    if (document.hidden || !navigator.wakeLock) return;
    try {
      await navigator.wakeLock.request("screen");
      at("awake").hidden = true;
    } catch { /* The device saves power. */ }
  };
  document.addEventListener("visibilitychange", awake);
  awake();

  show();
  listen();
})();
