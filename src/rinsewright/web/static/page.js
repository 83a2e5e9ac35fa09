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
  const typed = new Map(JSON.parse(kept));
  for (const field of form.querySelectorAll("input:not([type=hidden]), select, textarea")) {
    if (field.type === "radio" || field.type === "checkbox") field.checked = typed.get(field.name) === field.value;
    else if (typed.has(field.name)) field.value = typed.get(field.name);
  }
  notice(form, document.body.dataset.kept);
};

/* Send a form and show what came of it: the answer if it was taken, what is wrong if it was not. */
const send = async (form) => {
  const ids = form.dataset.swap.split(" ");
  try {
    const answer = await fetch(form.action, {
      method: "post",
      body: new URLSearchParams(fieldsOf(form)),
      headers: { "X-Fragment": ids.join(" ") },
    });
    const page = parsed(await answer.text());
    forget(form);
    if (!swap(page, ids)) notice(form, page.getElementById("refusal")?.textContent.trim() ?? answer.statusText);
    else if (answer.ok) document.getElementById(ids[0]).scrollIntoView();
    else document.querySelector("[aria-invalid]")?.focus();
  } catch {
    keep(form);
  } finally {
    form.ariaBusy = "false";
  }
};

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.dataset.swap) return;
  event.preventDefault();
  if (form.ariaBusy === "true") return;
  form.ariaBusy = "true";
  send(form);
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

/* Elements marked data-load fetch themselves, one after another. */
const load = async () => {
  for (let place; (place = document.querySelector("[data-load]:not([aria-busy])")); ) {
    place.ariaBusy = "true";
    const waiting = place.querySelector("[data-waiting]");
    if (waiting) waiting.textContent = waiting.dataset.waiting;
    try {
      const answer = await fetch(place.dataset.load, { headers: { "X-Fragment": place.id } });
      if (answer.ok && place.isConnected) swap(parsed(await answer.text()), [place.id]);
    } catch {
      return;
    }
  }
};

document.addEventListener("swapped", load);
document.querySelectorAll("form[data-swap]").forEach(restore);
load();
