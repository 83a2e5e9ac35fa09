/* First run: one card at a time, judged as it is typed; kept on this device first (outbox.js). Without signal the
   judgement is the phone's own: inside the band or not. A first run that is begun without signal has its bands from
   the table that came with the page. */
"use strict";

{
  const root = document.getElementById("first-run");
  const says = root.dataset;
  const site = `/sites/${says.slug}/first-run`;
  const begunName = `begun ${says.slug}`;
  const cards = [...document.querySelectorAll(".card")];
  const cardOf = (key) => document.getElementById(`r-${key}`);
  const drafts = says.run ? `draft ${says.run} ` : `draft ${says.slug} `;
  let begun = JSON.parse(localStorage.getItem(begunName) ?? "null");
  let stale = false;
  let table = null;

  document.documentElement.classList.add("scripted");

  const address = () => (says.run ? `${site}/${says.run}` : `${site}/begun`);
  const mine = (entry) => entry.address === address() && (says.run || entry.fields.begun === begun?.begun);

  /* As the app reads numbers: 3,4 and 3.4 are the same, 1,200 is a thousand and more; null where it is none. */
  const parse = (text) => {
    let plain = text.replace(/[\s\u00a0]/g, "").replace("\u2212", "-");
    plain = /^-?\d{1,3}(,\d{3})+(\.\d+)?$/.test(plain) ? plain.replaceAll(",", "") : plain.replace(",", ".");
    return plain !== "" && Number.isFinite(Number(plain)) ? Number(plain) : null;
  };

  /* A device that keeps nothing is no reason to stop. */
  const remember = (name, text) => {
    try {
      localStorage.setItem(name, text);
    } catch {
      // what is typed then lasts as long as the page
    }
  };

  const fill = (text, places) => text.replace(/\{(\w+)\}/g, (_, name) => places[name]);
  const shown = (card, value) => (value * card.dataset.scale).toFixed(card.dataset.decimals);
  const input = (card) => card.querySelector("[name=value]");

  // ---- which card is shown ----

  const show = (card, { focus = true } = {}) => {
    cards.forEach((one) => one.classList.toggle("here", one === card));
    if (focus) input(card).focus();
    input(card).select();
    card.scrollIntoView({ block: "nearest" });
  };

  const fromHash = () => {
    const card = cards.find((one) => `#${one.id}` === location.hash);
    if (card) show(card);
  };

  const goOn = (card) => {
    const at = cards.indexOf(card);
    const next = [...cards.slice(at + 1), ...cards.slice(0, at)].find((one) => one.dataset.read === undefined);
    if (next) location.hash = next.id;
    else {
      document.activeElement.blur();
      location.hash = "sheet";
    }
    fromHash();
  };

  // ---- the judgement ----

  const judged = (key) => document.getElementById(`judged-${key}`);

  const pointer = (card, value) => {
    const [low, high] = [Number(card.dataset.low), Number(card.dataset.high)];
    const drawn = root.querySelector("[data-scale-drawing]").content.firstElementChild.cloneNode(true);
    const at = Math.min(Math.max(60 + (60 * (value - low)) / (high - low), 4), 176);
    drawn.querySelector(".pointer").setAttribute("transform", `translate(${at.toFixed(1)} 0)`);
    return drawn;
  };

  const mark = (word) => root.querySelector(`[data-mark=${word}]`).content.cloneNode(true);

  /* Inside the band or not, half of the last digit forgiven; null where there is no band. */
  const word = (card, value) => {
    if (card.dataset.low === undefined || value === null) return null;
    const half = 0.5 / 10 ** card.dataset.decimals / card.dataset.scale;
    return value >= card.dataset.low - half && value <= Number(card.dataset.high) + half ? "fine" : "look";
  };

  const judgeHere = (card, value) => {
    const found = word(card, value);
    const text = document.createElement("p");
    if (found) text.append(mark(found), " ", found === "fine" ? says.onPhoneFine : says.onPhoneLook);
    else text.append(says.onPhoneUnknown);
    judged(card.dataset.key).replaceChildren(...(found ? [pointer(card, value)] : []), text);
  };

  const asking = new Map();

  const judge = async (card) => {
    const { key } = card.dataset;
    asking.get(key)?.abort();
    const typed = parse(input(card).value);
    if (typed === null) return judged(key).replaceChildren();
    const value = typed / card.dataset.scale;
    const control = new AbortController();
    asking.set(key, control);
    if (!says.run || !navigator.onLine) return judgeHere(card, value);
    const meanwhile = setTimeout(judgeHere, 600, card, value);
    try {
      const query = new URLSearchParams({ key, value });
      const answer = await fetch(`${site}/${says.run}/judged?${query}`, { signal: control.signal });
      if (answer.ok && swap(parsed(await answer.text()), [`judged-${key}`])) clearTimeout(meanwhile);
    } catch (error) {
      clearTimeout(meanwhile);
      if (error.name !== "AbortError") judgeHere(card, value);
    }
  };

  let soon = 0;
  document.addEventListener("input", (event) => {
    const card = event.target.closest(".card");
    if (!card) return;
    remember(drafts + card.dataset.key, event.target.value);
    clearTimeout(soon);
    soon = setTimeout(judge, 200, card);
  });

  // ---- a reading is kept ----

  const complain = (card, text) => {
    card.querySelector(".error")?.remove();
    input(card).toggleAttribute("aria-invalid", Boolean(text));
    if (!text) return;
    const said = document.createElement("p");
    said.className = "error";
    said.setAttribute("role", "alert");
    said.textContent = text;
    card.querySelector(".entry").before(said);
  };

  /* What was read, in the key's unit; null, with the reason said, where it cannot be. */
  const reading = (card) => {
    const { least, most, scale, unit } = card.dataset;
    const typed = parse(input(card).value);
    const outside = typed !== null && (typed / scale < least || typed / scale > most);
    const range = { low: Number((least * scale).toPrecision(4)), high: `${Number((most * scale).toPrecision(4))} ${unit}` };
    complain(card, typed === null ? says.notANumber : outside ? fill(says.outOfRange, range) : "");
    return typed === null || outside ? null : { value: typed / scale };
  };

  document.addEventListener("submit", (event) => {
    if (event.target.dataset.reading === undefined) return;
    const card = event.target.closest(".card");
    const never = event.submitter?.name === "never";
    const read = never ? { never: "yes" } : reading(card);
    if (!read) return event.preventDefault();
    const since = says.run ? {} : begun;
    if (!outbox.add(address(), { ...since, key: card.dataset.key, ...read })) return; // then it goes as a form
    event.preventDefault();
    complain(card, "");
    localStorage.removeItem(drafts + card.dataset.key);
    applyWaiting();
    goOn(card);
  });

  /* What waits to be sent shows in its card and on the sheet. */
  const applyWaiting = () => {
    const left = outbox.waiting().filter(mine);
    for (const { fields } of left) {
      const card = cardOf(fields.key);
      if (!card) continue;
      const value = fields.never ? null : Number(fields.value);
      card.dataset.read = "";
      if (value !== null && document.activeElement !== input(card)) input(card).value = Number((value * card.dataset.scale).toPrecision(6));
      const row = document.getElementById(`line-${fields.key}`);
      const read = fields.never ? says.neverDid : `${Number((value * card.dataset.scale).toPrecision(6))} ${card.dataset.unit}`;
      row.querySelector(".read").textContent = read;
      row.classList.remove("unread");
      const found = word(card, value);
      row.querySelector(".word").replaceChildren(...(found ? [mark(found), " "] : []), says.waits);
    }
    if (left.length) document.querySelector("[data-verdict]").textContent = fill(says.sheetWaits, { count: left.length });
    const progress = document.querySelector("#progress progress");
    if (!progress) return;
    progress.value = cards.filter((card) => card.dataset.read !== undefined).length;
    progress.nextElementSibling.textContent = fill(says.read, { read: progress.value, all: cards.length });
  };

  /* The page as the app has it now: the sheet, the judgements, and what was read elsewhere. */
  const refresh = async () => {
    stale = true;
    try {
      const answer = await fetch(`${site}/${says.run}`);
      if (!answer.ok) return;
      const fresh = parsed(await answer.text());
      stale = false;
      for (const card of cards) {
        const now = fresh.getElementById(card.id);
        if (!now) continue;
        if (now.dataset.read !== undefined) card.dataset.read = "";
        const busy = document.activeElement === input(card) || localStorage.getItem(drafts + card.dataset.key) !== null;
        if (busy) continue;
        input(card).value = input(now).value;
        swap(fresh, [`judged-${card.dataset.key}`]);
      }
      swap(fresh, ["progress", "sheet"]);
      applyWaiting();
    } catch {
      // no signal: what is shown stays
    }
  };

  document.addEventListener("outbox-sent", ({ detail: { entry, told } }) => {
    if (!mine(entry)) return;
    if (says.run) {
      if (!outbox.waiting().some(mine)) refresh();
      return;
    }
    begun.at = told.at;
    remember(begunName, JSON.stringify(begun));
    moveToBook();
  });

  document.addEventListener("outbox-refused", ({ detail: { entry, why } }) => {
    const card = mine(entry) && cardOf(entry.fields.key);
    if (card) complain(card, why);
  });

  // ---- a first run begun without signal ----

  /* The app has all of it: go on there. Only what is being typed waits for that. */
  const moveToBook = () => {
    if (!begun?.at || outbox.waiting().some(mine)) return;
    if (Object.keys(localStorage).some((name) => name.startsWith(drafts))) return;
    localStorage.removeItem(begunName);
    location.assign(begun.at);
  };

  /* Between two points of a grid, as firstrun/table.py has it; null outside or where it is not known. */
  const between = (points, at, values) => {
    if (at < points[0] || at > points.at(-1)) return null;
    const after = Math.max(points.findIndex((point) => point >= at), 1);
    const share = (at - points[after - 1]) / (points[after] - points[after - 1]);
    const mix = (a, b) => {
      if (Array.isArray(a)) return a.map((one, n) => mix(one, b[n]));
      return a === null || b === null ? null : (1 - share) * a + share * b;
    };
    return mix(values[after - 1], values[after]);
  };

  const band = (key, { temperature_c: t, running_bar: p }) => {
    if (!table?.bands[key]) return null;
    if (p === undefined) return between(table.temperature_c, Number(t), table.unread[key]);
    const column = between(table.temperature_c, Number(t), table.bands[key]);
    return column && between(table.running_bar, Number(p), column);
  };

  const setBand = (card) => {
    const found = band(card.dataset.key, begun);
    const known = found && found.every((edge) => edge !== null);
    ["value", "low", "high"].forEach((edge, n) => {
      if (known) card.dataset[edge] = found[n];
      else delete card.dataset[edge];
    });
    const [value, low, high] = known ? found.map((edge) => shown(card, edge)) : [];
    const text = known ? fill(says.band, { value, low, high, unit: card.dataset.unit }) : says.bandUnknown;
    document.getElementById(`band-${card.dataset.key}`).textContent = text;
  };

  const showBegun = () => {
    document.getElementById("begin").hidden = true;
    document.getElementById("without-signal").hidden = false;
    cards.forEach(setBand);
    applyWaiting();
    show(cards.find((card) => card.dataset.read === undefined) ?? cards[0]);
  };

  const here = document.getElementById("without-signal");
  if (here) {
    const { temperatureScale, temperatureOffset, pressureScale } = here.dataset;

    /* Null where the form is to say what is wrong, which it can with signal only. */
    const conditions = (form) => {
      const [t, p] = ["temperature", "running"].map((name) => form.elements[name].value.trim());
      const temperature = (parse(t) - temperatureOffset) / temperatureScale;
      if (parse(t) === null || temperature < 0 || temperature > 45 || (p && parse(p) === null)) return null;
      return { temperature_c: temperature, ...(p ? { running_bar: parse(p) / pressureScale } : {}) };
    };

    document.addEventListener("submit", async (event) => {
      const form = event.target;
      if (form.dataset.begin === undefined) return;
      event.preventDefault();
      try {
        const body = new URLSearchParams(new FormData(form));
        const answer = await fetch(form.action, { method: "POST", body, signal: AbortSignal.timeout(8000) });
        if (answer.redirected) location.assign(answer.url);
        else swap(parsed(await answer.text()), ["begin"]);
      } catch {
        const today = conditions(form);
        if (!today) return form.elements.temperature.focus();
        begun = { begun: outbox.uuid(), begun_at: new Date().toISOString(), ...today };
        remember(begunName, JSON.stringify(begun));
        showBegun();
      }
    });

    here.querySelector("[data-again]").addEventListener("click", () => {
      localStorage.removeItem(begunName);
      location.reload();
    });

    fetch(here.dataset.table)
      .then((answer) => answer.json())
      .then((answer) => {
        table = answer;
        if (!begun) return;
        cards.forEach(setBand);
        applyWaiting();
      })
      .catch(() => {});
    if (begun) {
      showBegun();
      moveToBook();
    }
  }

  // ---- as the page opens ----

  for (const card of cards) {
    const draft = localStorage.getItem(drafts + card.dataset.key);
    if (draft !== null && (says.run || begun)) {
      input(card).value = draft;
      judge(card);
    }
  }
  if (says.run) {
    applyWaiting();
    const at = cards.find((card) => card.classList.contains("here")) ?? cards[0];
    if (at.dataset.read !== undefined) goOn(at);
    else show(at, { focus: false });
    for (const name of ["online", "focus"]) addEventListener(name, () => stale && refresh());
    setInterval(() => stale && refresh(), 20000);
  }
  addEventListener("hashchange", fromHash);
  fromHash();
}
