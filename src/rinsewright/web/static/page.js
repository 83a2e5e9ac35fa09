/* Everything works as plain forms without this. With it, a form marked data-swap="id other-id" is sent in the
   background and only those elements of the page are put anew; what cannot be sent is kept and said so. */
"use strict";

const notice = (form, text) => {
  let place = form.querySelector(".unsent");
  if (!place) {
    place = document.createElement("p");
    place.className = "unsent alarm";
    place.setAttribute("role", "alert");
    form.prepend(place);
  }
  place.textContent = text;
};

const parsed = (text) => new DOMParser().parseFromString(text, "text/html");

/* Put the named elements of an answer in the place of those shown; tells whether any was there. */
const swap = (answer, ids) => {
  let found = false;
  for (const id of ids) {
    const [fresh, old] = [answer.getElementById(id), document.getElementById(id)];
    if (!fresh || !old) continue;
    const focused = old.contains(document.activeElement) ? document.activeElement.id : "";
    old.replaceWith(document.adoptNode(fresh));
    if (focused) document.getElementById(focused)?.focus();
    found = true;
  }
  if (found) document.dispatchEvent(new CustomEvent("swapped", { detail: ids }));
  return found;
};

const keptAs = (form) => `unsent ${form.action}`;
const fieldsOf = (form) => [...new FormData(form)].filter(([, value]) => typeof value === "string");
const forget = (form) => localStorage.removeItem(keptAs(form));

const keep = (form) => {
  localStorage.setItem(keptAs(form), JSON.stringify(fieldsOf(form)));
  notice(form, document.body.dataset.notSent);
};

/* What was typed earlier and never sent stands in its form again. */
const restore = (form) => {
  const kept = localStorage.getItem(keptAs(form));
  if (!kept) return;
  for (const [name, value] of JSON.parse(kept)) {
    const field = form.elements[name];
    if (field && !(field.type === "hidden")) field.value = value;
  }
  notice(form, document.body.dataset.kept);
};

const running = new WeakMap();

/* Send a form; a later sending of the same form overtakes an earlier one. */
const send = async (form, submitter) => {
  const ids = form.dataset.swap.split(" ");
  const body = new URLSearchParams(fieldsOf(form));
  if (submitter?.name) body.set(submitter.name, submitter.value);
  running.get(form)?.abort();
  const control = new AbortController();
  running.set(form, control);
  const reading = form.method === "get";
  const address = reading ? `${form.action.split("?")[0]}?${body}` : form.action;
  const headers = { "X-Fragment": ids.join(" ") };
  try {
    const answer = await fetch(address, { method: form.method, body: reading ? null : body, headers, signal: control.signal });
    const page = parsed(await answer.text());
    forget(form);
    if (swap(page, ids)) return;
    const refusal = page.getElementById("refusal");
    if (refusal) notice(form, refusal.textContent.trim());
    else if (answer.redirected) location.assign(answer.url);
  } catch (error) {
    if (error.name !== "AbortError") keep(form);
  }
};

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.dataset.swap) return;
  event.preventDefault();
  send(form, event.submitter);
});

/* A form marked data-busy says that it is at work, and is not sent twice. */
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.busy === undefined) return;
  if (form.ariaBusy === "true") event.preventDefault();
  form.ariaBusy = "true";
  if (event.submitter) event.submitter.textContent = form.dataset.busy;
});
addEventListener("pageshow", (event) => event.persisted && location.reload());

/* A form marked data-live is sent as it is changed: at once for a slider, but never two at a time. */
document.addEventListener("input", (event) => {
  const form = event.target.form;
  if (form?.dataset.live === undefined) return;
  clearTimeout(form.soon);
  form.soon = setTimeout(() => form.requestSubmit(), 40);
});

/* Elements marked data-load fetch themselves, one after another. */
const load = async () => {
  for (const place of document.querySelectorAll("[data-load]")) {
    const waiting = place.querySelector("[data-waiting]");
    if (waiting) waiting.textContent = waiting.dataset.waiting;
    try {
      const answer = await fetch(place.dataset.load, { headers: { "X-Fragment": place.id } });
      if (answer.ok) swap(parsed(await answer.text()), [place.id]);
    } catch {
      return;
    }
  }
};

document.querySelectorAll("form[data-swap]").forEach(restore);
load();
