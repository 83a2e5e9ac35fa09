/* The sliders: everything follows the thumb. One question at a time, at most one a frame; when an answer comes and the
   thumb has moved on meanwhile, the newest place is asked for next, so that an old answer never covers a newer one. */
"use strict";

(() => {
  const form = document.getElementById("sliders");
  if (!form) return;
  form.classList.add("live");
  const isWide = matchMedia("(min-width: 780px)");
  let asking = false;
  let waiting = false;
  const heard = document.getElementById("heard");
  const moved = new Set(new URLSearchParams(location.search).keys()); // what was not stands as saved, to every digit
  let before = null; // what was wrong when the thumb began to move
  let rest;

  const say = (slider) => {
    const place = slider.labels[0].querySelector("output");
    place.textContent = `${slider.value}\u00a0${place.dataset.unit}`;
    slider.setAttribute("aria-valuetext", place.textContent);
  };

  const wrong = () => [...document.querySelectorAll("#parts [data-found]")].map((one) => one.dataset.found);

  const textOf = (place) => document.querySelector(place).textContent.trim();

  /* Who hears the page is told once, when the thumb has come to rest: the answer, and what is wrong now and was not. */
  const tell = () => {
    const now = wrong();
    const told = (word, found) => (found.length ? [`${word} ${found.join("; ")}.`] : []);
    heard.textContent = [
      textOf("#answer"),
      textOf("#why"),
      ...told(heard.dataset.new, now.filter((one) => !before.includes(one))),
      ...told(heard.dataset.gone, before.filter((one) => !now.includes(one))),
    ].join(" ");
    before = null;
  };

  const ask = async () => {
    if (asking) {
      waiting = true;
      return;
    }
    asking = true;
    waiting = false;
    const places = [...new FormData(form)].filter(([name]) => moved.has(name));
    const place = new URLSearchParams(places).toString();
    const drawing = isWide.matches && document.getElementById("wide") ? "wide" : "tall";
    const names = ["answer", "worst", "why", drawing, "parts"];
    try {
      const answer = await fetch(`${form.action}?${place}`, { headers: { "X-Fragment": names.join(" ") } });
      if (answer.ok) put(await answer.text(), names);
      history.replaceState(null, "", place ? `?${place}` : location.pathname);
    } catch {
      document.querySelector("#answer .first").textContent = form.dataset.silent;
    }
    asking = false;
    if (waiting) requestAnimationFrame(ask);
    else if (before) {
      clearTimeout(rest);
      rest = setTimeout(tell, 800);
    }
  };

  /* Put the insides of the named places anew; a link that had the focus has it again. */
  const put = (text, names) => {
    const page = new DOMParser().parseFromString(text, "text/html");
    for (const name of names) {
      const [fresh, old] = [page.getElementById(name), document.getElementById(name)];
      if (!fresh || !old) continue;
      const focused = old.contains(document.activeElement) ? document.activeElement.getAttribute("href") : null;
      old.replaceChildren(...fresh.childNodes);
      if (focused) [...old.querySelectorAll("a")].find((link) => link.getAttribute("href") === focused)?.focus();
    }
  };

  form.addEventListener("input", (event) => {
    say(event.target);
    moved.add(event.target.name);
    clearTimeout(rest);
    before ??= wrong();
    requestAnimationFrame(ask);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ask();
  });
  isWide.addEventListener("change", ask);
  document.addEventListener("swapped", (event) => {
    if (event.detail.includes("parts")) ask(); // the plan is made: its marks belong on the drawing
  });
})();
