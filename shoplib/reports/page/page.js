"use strict";
(() => {
  const DARK = @@dark@@, NARROW = 560, PRINT = 660, PRINT_HEIGHT = 0.74;
  const CONFIG = { displayModeBar: false, responsive: false, showTips: false };
  const all = (selector, root = document) => [...root.querySelectorAll(selector)];
  const text = (id) => document.getElementById(id).textContent;
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const chosen = {};
  let printing = false, lastWidth = 0;

  const recolour = (json) =>
    printing || !dark.matches ? json : json.replace(/"#[0-9a-f]{6}"/g, (hex) => `"${DARK[hex.slice(1, -1)] || hex.slice(1, -1)}"`);
  const merge = (into, from) => {
    for (const key of Object.keys(from)) {
      const both = from[key] && into[key] && typeof from[key] === "object" && !Array.isArray(from[key]);
      into[key] = both ? merge(into[key], from[key]) : from[key];
    }
    return into;
  };

  function draw(plot) {
    const width = printing ? PRINT : plot.clientWidth;
    if (!width) return;
    const figure = JSON.parse(recolour(text(plot.id + "-data")));
    const narrow = width < NARROW ? figure.narrow : { layout: {}, traces: {} };
    const layout = merge(figure.layout, narrow.layout);
    for (const at of Object.keys(narrow.traces)) merge(figure.data[at], narrow.traces[at]);
    layout.template = JSON.parse(recolour(text("template")));
    layout.width = width;
    layout.height = Math.round(layout.height * (printing ? PRINT_HEIGHT : 1));
    plot.style.height = layout.height + "px";
    plot.steps = figure.steps;
    Plotly.newPlot(plot, figure.data, layout, CONFIG);
    move(plot);
  }
  function move(plot) {
    const step = (plot.steps || [])[chosen[plot.dataset.follows]];
    if (step) Plotly.update(plot, step.restyle, step.relayout, step.traces);
  }
  const drawAll = () => all(".plot").forEach(draw);

  function choose(input) {
    const name = input.dataset.control, step = Number(input.value);
    chosen[name] = step;
    all("[data-step]").filter((part) => part.dataset.for === name).forEach((part) => { part.hidden = Number(part.dataset.step) !== step; });
    if (input.type === "range") {
      const label = JSON.parse(input.closest(".control").dataset.labels)[step];
      document.getElementById("o-" + name).textContent = label;
      input.setAttribute("aria-valuetext", label);
    }
    all(".plot").filter((plot) => plot.dataset.follows === name).forEach(move);
  }
  for (const input of all("[data-control]")) {
    if (input.type === "radio" && !input.checked) input.checked = input.defaultChecked;
    else input.value = input.defaultValue;
    input.addEventListener("input", () => choose(input));
  }

  const raw = (row, at) => {
    const cell = row.cells[at], value = cell.dataset.v === undefined ? cell.textContent : cell.dataset.v;
    return value === "" || value === "\u2013" ? null : isNaN(value) ? value.toLowerCase() : Number(value);
  };
  const order = (a, b) => (a === b ? 0 : a === null ? 1 : b === null ? -1 : a < b ? -1 : 1);
  function sort(head) {
    const at = head.cellIndex, table = head.closest("table");
    const first = head.classList.contains("n") ? "descending" : "ascending";
    const way = head.ariaSort === first ? (first === "descending" ? "ascending" : "descending") : first;
    all("thead th", table).forEach((other) => other.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", way);
    for (const body of table.tBodies) {
      const rows = [...body.rows].map((row) => [raw(row, at), row]);
      rows.sort(([a], [b]) => (a === null || b === null || way === "ascending" ? order(a, b) : order(b, a)));
      body.append(...rows.map(([, row]) => row));
    }
  }
  for (const word of all("th .sort")) {
    if (!word.closest("table").querySelector("tbody tr + tr")) continue;
    word.setAttribute("role", "button");
    word.tabIndex = 0;
    word.addEventListener("click", () => sort(word.closest("th")));
    word.addEventListener("keydown", (event) => {
      if (event.key === "Enter" || event.key === " ") { event.preventDefault(); sort(word.closest("th")); }
    });
  }
  for (const field of all(".find input")) {
    field.closest(".find").hidden = false;
    field.addEventListener("input", () => {
      const words = field.value.toLowerCase().split(/\s+/);
      for (const row of all("tbody tr", document.getElementById(field.getAttribute("aria-controls"))))
        row.hidden = !words.every((word) => row.textContent.toLowerCase().includes(word));
    });
  }
  for (const button of all(".tap")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const on = document.getElementById(button.getAttribute("aria-controls")).classList.toggle("all");
      button.setAttribute("aria-pressed", String(on));
    });
  }

  const contents = document.querySelector("details.contents");
  const wide = matchMedia("(min-width: 1100px)");
  const unfold = () => { if (contents) contents.open = wide.matches; };
  wide.addEventListener("change", unfold);
  unfold();
  if (!window.Plotly) return;
  dark.addEventListener("change", drawAll);
  addEventListener("beforeprint", () => { printing = true; drawAll(); });
  addEventListener("afterprint", () => { printing = false; drawAll(); });
  addEventListener("resize", () => { if (!printing && innerWidth !== lastWidth) { lastWidth = innerWidth; drawAll(); } });
  document.addEventListener("toggle", (event) => { if (event.target.open) all(".plot", event.target).forEach(draw); }, true);
  lastWidth = innerWidth;
  drawAll();
})();
