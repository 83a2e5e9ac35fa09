/* What is read or ticked is first kept on this device, then sent, and forgotten only when the app has told that it
   holds it. Each entry has an id of its own by which the app keeps it once, however often it arrives. */
"use strict";

const outbox = (() => {
  const says = document.currentScript.dataset;
  const NAME = "outbox ";
  const AGAIN_MS = 20000;
  const PATIENCE_MS = 10000;
  let count = 0;
  let sending = null;

  /* randomUUID is there on secure origins only; RFC 9562, version 4, from random bytes otherwise. */
  const uuid = () => {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
  };

  const store = (entry) => localStorage.setItem(NAME + entry.id, JSON.stringify(entry));

  /* In the order in which they were made. Each stands under a name of its own, so that two open pages never overwrite
     one another's. */
  const entries = () =>
    Object.keys(localStorage)
      .filter((name) => name.startsWith(NAME))
      .map((name) => JSON.parse(localStorage.getItem(name)))
      .sort((a, b) => a.at.localeCompare(b.at) || a.count - b.count);

  const waiting = () => entries().filter((entry) => !entry.refused);

  const tell = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));

  const forget = (entry) => {
    localStorage.removeItem(NAME + entry.id);
    show();
  };

  const place = () => {
    let found = document.getElementById("outbox");
    if (!found) {
      found = document.createElement("div");
      found.id = "outbox";
      found.setAttribute("role", "status");
      document.getElementById("page").before(found);
    }
    return found;
  };

  const line = (text, button, act) => {
    const made = document.createElement("p");
    made.append(text);
    if (button) {
      const press = document.createElement("button");
      press.type = "button";
      press.textContent = button;
      press.addEventListener("click", act);
      made.append(" ", press);
    }
    return made;
  };

  const show = () => {
    const all = entries();
    const left = all.filter((entry) => !entry.refused).length;
    const lines = left ? [line((left === 1 ? says.one : says.waiting).replace("{count}", left), says.now, flush)] : [];
    for (const entry of all.filter((one) => one.refused))
      lines.push(line(says.refused.replace("{why}", entry.refused), says.discard, () => forget(entry)));
    if (!lines.length && !document.getElementById("outbox")) return;
    place().replaceChildren(...lines);
  };

  /* Keep something to be sent to an address; the entry, or null where this device keeps nothing. */
  const add = (address, fields) => {
    const entry = { id: uuid(), at: new Date().toISOString(), count: count++, address, fields };
    try {
      store(entry);
    } catch {
      return null;
    }
    show();
    flush();
    return entry;
  };

  const why = (text) => {
    try {
      return JSON.parse(text).refused;
    } catch {
      return new DOMParser().parseFromString(text, "text/html").getElementById("refusal")?.textContent.trim();
    }
  };

  const echo = (text) => {
    try {
      return JSON.parse(text);
    } catch {
      return {}; // something else answered in the app's place
    }
  };

  const sendOne = async (entry) => {
    const body = new URLSearchParams({ ...entry.fields, client_id: entry.id, taken_at: entry.at });
    const signal = AbortSignal.timeout(PATIENCE_MS);
    const answer = await fetch(entry.address, { method: "POST", body, signal });
    const text = await answer.text();
    const told = echo(text);
    if (answer.ok && told.client_id === entry.id) {
      forget(entry);
      tell("outbox-sent", { entry, told });
    } else if ([404, 409, 422].includes(answer.status) && why(text)) {
      store({ ...entry, refused: why(text) });
      show();
      tell("outbox-refused", { entry, why: why(text) });
    }
  };

  const sendAll = async () => {
    const tried = new Set();
    for (;;) {
      const next = waiting().find((entry) => !tried.has(entry.id));
      if (!next) return;
      tried.add(next.id);
      try {
        await sendOne(next);
      } catch {
        return; // no signal: all of it stays where it is
      }
    }
  };

  /* Send what waits, in its order, one after the other. */
  const flush = () => {
    sending ??= sendAll().finally(() => {
      sending = null;
    });
    return sending;
  };

  for (const name of ["online", "focus", "pageshow"]) addEventListener(name, flush);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && flush());
  addEventListener("storage", show);
  setInterval(flush, AGAIN_MS);
  show();
  flush();
  return { add, entries, waiting, flush, uuid };
})();

/* Ticks: a box marked data-tick="sheet" data-key="…", or a form marked data-tick="sheet" with the buttons done. */
{
  const site = location.pathname.split("/")[2];
  const address = `/sites/${site}/ticks`;
  const tick = (sheet, key, done) => outbox.add(address, { sheet, key, done: done ? "yes" : "no" });

  document.addEventListener("change", (event) => {
    const { tick: sheet, key } = event.target.dataset;
    if (sheet && key) tick(sheet, key, event.target.checked);
  });

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    const done = event.submitter?.value === "yes";
    if (!form.dataset.tick || !tick(form.dataset.tick, form.elements.key.value, done)) return;
    event.preventDefault();
    await outbox.flush();
    const after = document.querySelector(`a[href="?step=${Number(form.elements.step?.value) + 1}"]`);
    if (!outbox.waiting().length) location.assign(done ? location.pathname : location.href);
    else if (done && after) location.assign(after.href);
  });

  /* What waits to be sent shows as it was left. */
  for (const { address: to, fields } of outbox.waiting()) {
    if (to !== address) continue;
    for (const box of document.querySelectorAll("input[data-tick]"))
      if (box.dataset.tick === fields.sheet && box.dataset.key === fields.key) box.checked = fields.done === "yes";
  }
}

/* The pages that are used where there is no signal are kept for it, see worker.js. */
{
  const keepSteps = async () => {
    const steps = [...new Set([...document.querySelectorAll('a[href^="?step="]')].map((link) => link.href))];
    const state = document.getElementById("last")?.textContent ?? "";
    if (!steps.length || sessionStorage.getItem(location.pathname) === state) return;
    sessionStorage.setItem(location.pathname, state);
    const registration = await navigator.serviceWorker.ready;
    registration.active.postMessage({ keep: steps });
  };

  if ("serviceWorker" in navigator) {
    navigator.serviceWorker.register("/worker.js");
    keepSteps();
  }

  const list = document.querySelector("[data-kept-pages]");
  if (list && "caches" in window)
    caches.open("pages").then(async (pages) => {
      for (const { url } of await pages.keys()) {
        const { pathname, search } = new URL(url);
        const [, , slug, name, part] = pathname.split("/");
        const called = list.dataset[name?.replace("-", "")];
        if (search || part === "table" || !called) continue;
        const [item, link] = [document.createElement("li"), document.createElement("a")];
        link.href = pathname;
        link.textContent = [slug, called, part].filter(Boolean).join(" · ");
        item.append(link);
        list.append(item);
      }
    });
}
