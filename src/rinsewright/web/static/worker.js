/* Keeps the app's shell, and the pages that a hand needs in the yard, for use without signal. SHELL is put before this
   by the app: addresses that hold their content's hash, so that what is kept is never out of date. */
"use strict";

const STATIC = "static";
const PAGES = "pages";
const WITHOUT_SIGNAL = "/offline";
const PATIENCE_MS = 4000;
const FIELD = /^\/sites\/[^/]+\/(first-run|build|unpacking)(\/(\d+|table))?$/;

const install = async () => {
  await (await caches.open(STATIC)).addAll(SHELL);
  await (await caches.open(PAGES)).add(WITHOUT_SIGNAL);
  await skipWaiting();
};

addEventListener("install", (event) => event.waitUntil(install()));
addEventListener("activate", (event) => event.waitUntil(clients.claim()));

const fromShell = async (request) => (await caches.match(request)) ?? fetch(request);

/* What the app answers. A gateway that says the app is not to be had (RFC 9110, 15.6.3 to 15.6.5) is no signal. */
const fromApp = async (request) => {
  const answer = await fetch(request);
  if ([502, 503, 504].includes(answer.status)) throw new TypeError("the app is not to be had");
  return answer;
};

/* From the app, and kept; from what is kept where the app does not answer. */
const freshOrKept = async (event) => {
  const pages = await caches.open(PAGES);
  const kept = await pages.match(event.request.url);
  const fetched = fromApp(event.request).then(async (answer) => {
    if (answer.ok && !answer.redirected) await pages.put(event.request.url, answer.clone());
    return answer;
  });
  event.waitUntil(fetched.catch(() => {}));
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, kept));
  try {
    return await (kept ? Promise.race([fetched, late]) : fetched);
  } catch {
    return kept ?? (await pages.match(event.request.url, { ignoreSearch: true })) ?? withoutSignal(event.request);
  }
};

const withoutSignal = async (request) =>
  request.mode === "navigate" ? (await caches.match(WITHOUT_SIGNAL)) ?? Response.error() : Response.error();

addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return;
  if (pathname.startsWith("/static/")) event.respondWith(fromShell(request));
  else if (FIELD.test(pathname) && !request.headers.has("X-Fragment")) event.respondWith(freshOrKept(event));
  else if (request.mode === "navigate") event.respondWith(fromApp(request).catch(() => withoutSignal(request)));
});

/* A page names others that will be wanted after it. */
const keep = async (addresses) => {
  const pages = await caches.open(PAGES);
  for (const address of addresses) {
    const answer = await fetch(address);
    if (answer.ok && !answer.redirected) await pages.put(address, answer);
  }
};

addEventListener("message", (event) => event.data.keep && event.waitUntil(keep(event.data.keep).catch(() => {})));
