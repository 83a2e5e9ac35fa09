/* Charts that can be touched: a line stands where the finger, the mouse or the arrow keys are, and under the chart it
   says in words what the table of the same numbers holds there. And while years are drawn, how far they are. */
"use strict";
{
  const svgNames = "http://www.w3.org/2000/svg";
  const charts = [];

  /* A table's row in words, for one of its columns. */
  const told = (chart, at) => {
    const row = chart.rows[at];
    const [when, cell] = [row.cells[0].textContent, row.cells[chart.column + 1].textContent];
    const [, value, band] = /^(\S+)( \(.*\))?$/.exec(cell) ?? [null, null, null];
    return value ? `${when}: ${value}\u00a0${chart.unit}${band ?? ""}` : `${when}: ${cell}`;
  };

  /* The line stands in every chart of the same time, the words under the one that is touched. */
  const point = (touched, at) => {
    const place = Math.max(0, Math.min(touched.rows.length - 1, at));
    for (const chart of charts) {
      if (chart.table !== touched.table) continue;
      const x = chart.left + (chart.width * (place + 0.5)) / chart.rows.length;
      chart.line.setAttribute("d", `M${x.toFixed(1)},${chart.top}v${chart.height}`);
      if (chart !== touched) chart.words.textContent = "";
    }
    touched.at = place;
    touched.words.textContent = told(touched, place);
    touched.handle.setAttribute("aria-valuenow", place + 1);
    touched.handle.setAttribute("aria-valuetext", touched.words.textContent);
  };

  const placeOf = (chart, event) => {
    const box = chart.svg.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * chart.svg.viewBox.baseVal.width;
    return Math.floor(((x - chart.left) / chart.width) * chart.rows.length);
  };

  const keys = (chart) => {
    const end = chart.rows.length;
    const far = end === 365 ? 28 : end === 168 ? 24 : 4; // four weeks, a day, four weeks
    return { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -far, PageUp: far, Home: -end, End: end };
  };

  const prepare = (figure) => {
    const handle = figure.querySelector(".year-touch");
    const svg = handle.querySelector("svg");
    const [left, top, width, height] = figure.dataset.plot.split(" ").map(Number);
    const line = svg.appendChild(document.createElementNS(svgNames, "path"));
    line.setAttribute("class", "year-line");
    const words = document.createElement("p");
    words.className = "year-read";
    words.setAttribute("aria-live", "polite");
    handle.after(words);
    const { table, unit } = figure.dataset;
    const rows = document.getElementById(table).tBodies[0].rows;
    const chart = { handle, svg, line, words, left, top, width, height, table, unit, rows, column: Number(figure.dataset.column), at: 0 };
    const looks = { tabindex: 0, role: "slider", "aria-valuemin": 1, "aria-valuemax": rows.length, "aria-valuenow": 1 };
    for (const [name, value] of Object.entries(looks)) handle.setAttribute(name, value);
    const [label, description] = svg.getAttribute("aria-labelledby").split(" ");
    handle.setAttribute("aria-labelledby", label);
    handle.setAttribute("aria-describedby", description);
    charts.push(chart);
    for (const kind of ["pointerdown", "pointermove"]) handle.addEventListener(kind, (event) => point(chart, placeOf(chart, event)));
    handle.addEventListener("keydown", (event) => {
      const step = keys(chart)[event.key];
      if (step === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      const first = !chart.words.textContent && Math.abs(step) < chart.rows.length; // it then shows where it stands
      point(chart, first ? chart.at : chart.at + step);
    });
  };

  document.querySelectorAll(".year-panel").forEach(prepare);
  document.querySelectorAll(".touch-hint").forEach((hint) => { hint.hidden = false; });

  /* While years are drawn: ask how far they are; when they are done, go and look at them. */
  const watch = async () => {
    const running = document.getElementById("drawing")?.dataset.running;
    if (!running) return;
    try {
      const answer = await fetch(running);
      if (answer.ok) swap(parsed(await answer.text()), ["drawing"]);
    } catch {
      /* The app does not answer just now; it is asked again. */
    }
    const done = document.getElementById("drawing").dataset.done;
    if (done) location.replace(done);
    else setTimeout(watch, 500);
  };
  watch();
}
