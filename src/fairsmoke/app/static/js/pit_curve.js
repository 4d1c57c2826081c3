// A small curve of the temperatures, drawn from the numbers that also stand in its table.
const HIGH = 300, LEFT = 46, RIGHT = 14, TOP = 12, BOTTOM = 28;
const DASHES = ["", "9 4", "2 4", "12 4 2 4", "5 3", "1 3", "14 5", "7 2 1 2"];
const SVG = "http://www.w3.org/2000/svg";

export function wire(root) {
  const place = root.querySelector("[data-curve]"), table = root.querySelector("[data-curve-table]");
  const number = new Intl.NumberFormat(document.documentElement.lang, { minimumFractionDigits: 1, maximumFractionDigits: 1 });
  let shown = JSON.parse(root.querySelector("[data-curve-data]").textContent);
  draw(place, shown, number);
  addEventListener("resize", () => draw(place, shown, number));
  root.addEventListener("curve", (event) => {
    shown = event.detail;
    draw(place, event.detail, number);
    list(table, event.detail, number, place.dataset.wordsTime);
  });
}

function make(name, attributes, text = null) {
  const one = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) one.setAttribute(key, value);
  if (text !== null) one.textContent = text;
  return one;
}

function draw(place, curve, number) {
  // As wide as its place, so that its letters are as large as the page's.
  const WIDE = Math.max(320, Math.min(900, place.clientWidth || 720));
  const values = curve.lines.flatMap((line) => line.values).filter((value) => value !== null);
  if (!values.length) {
    place.replaceChildren(Object.assign(document.createElement("p"), { className: "quiet", textContent: place.dataset.wordsNone }));
    return;
  }
  const low = Math.min(...values, ...curve.levels), high = Math.max(...values, ...curve.levels);
  const step = [5, 10, 20, 25, 50, 100].find((one) => (high - low) / one <= 6) ?? 100;
  const bottom = Math.floor(low / step) * step, top = Math.max(Math.ceil(high / step) * step, bottom + step);
  const [first, end] = [curve.times[0], curve.times.at(-1)];
  const x = (at) => LEFT + ((at - first) / Math.max(1, end - first)) * (WIDE - LEFT - RIGHT);
  const y = (value) => TOP + ((top - value) / (top - bottom)) * (HIGH - TOP - BOTTOM);
  const svg = make("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": described(curve, number) });
  for (let value = bottom; value <= top; value += step) {
    svg.append(make("line", { class: "grid", x1: LEFT, x2: WIDE - RIGHT, y1: y(value), y2: y(value) }));
    svg.append(make("text", { x: LEFT - 6, y: y(value) + 4, "text-anchor": "end" }, `${value}`));
  }
  const ticks = WIDE < 500 ? 4 : 6;
  for (let tick = 0; tick < ticks; tick += 1) {
    const index = Math.round((tick / (ticks - 1)) * (curve.times.length - 1));
    if (tick && curve.times[index] === curve.times[Math.round(((tick - 1) / (ticks - 1)) * (curve.times.length - 1))]) continue;
    const anchor = tick === 0 ? "start" : tick === ticks - 1 ? "end" : "middle";
    svg.append(make("text", { x: x(curve.times[index]), y: HIGH - 8, "text-anchor": anchor }, curve.clock[index]));
  }
  svg.append(make("text", { x: LEFT + 4, y: TOP + 10 }, curve.unit));
  for (const change of curve.changes) {
    svg.append(make("line", { class: "level", x1: x(change.at), x2: x(change.at), y1: TOP, y2: HIGH - BOTTOM }));
    const late = x(change.at) > WIDE / 2;
    svg.append(make("text", { x: x(change.at) + (late ? -4 : 4), y: HIGH - BOTTOM - 6, "text-anchor": late ? "end" : "start" }, change.words));
  }
  for (const level of curve.levels) {
    svg.append(make("line", { class: "level", x1: LEFT, x2: WIDE - RIGHT, y1: y(level), y2: y(level) }));
    svg.append(make("text", { x: LEFT + 4, y: y(level) - 5 }, `${place.dataset.wordsLevel} ${level} ${curve.unit}`));
  }
  curve.lines.forEach((line, index) => {
    for (const points of stretches(line.values.map((value, at) => (value === null ? null : [x(curve.times[at]), y(value)])))) {
      svg.append(make("polyline", { class: line.core ? "core" : "air", points: points.map((one) => one.map((part) => part.toFixed(1)).join()).join(" "), "stroke-dasharray": DASHES[index % DASHES.length] }));
    }
  });
  place.replaceChildren(svg, legend(curve, number));
}

function described(curve, number) {
  return curve.lines.map((line) => `${line.name}, ${line.what}: ${latest(line, curve, number)}`).join("; ");
}

function latest(line, curve, number) {
  const value = line.values.findLast((one) => one !== null);
  return value === undefined ? "–" : `${number.format(value)} ${curve.unit}`;
}

/** Return stretches without a hole; a lone reading is drawn as a short one. */
function stretches(points) {
  const found = [];
  let open = [];
  for (const point of [...points, null]) {
    if (point) open.push(point);
    else if (open.length) {
      found.push(open.length === 1 ? [open[0], [open[0][0] + 2, open[0][1]]] : open);
      open = [];
    }
  }
  return found;
}

function legend(curve, number) {
  const list = document.createElement("ul");
  list.className = "legend";
  curve.lines.forEach((line, index) => {
    const row = document.createElement("li"), sample = make("svg", { viewBox: "0 0 48 16", "aria-hidden": "true" });
    sample.append(make("polyline", { class: line.core ? "core" : "air", points: "0,8 48,8", "stroke-dasharray": DASHES[index % DASHES.length] }));
    row.append(sample, `${line.name}, ${line.what}: ${latest(line, curve, number)}`);
    list.append(row);
  });
  return list;
}

function list(table, curve, number, time) {
  const head = document.createElement("tr"), cell = (tag, text, more = {}) => Object.assign(document.createElement(tag), { textContent: text, ...more });
  head.append(cell("th", time, { scope: "col" }), ...curve.lines.map((line) => cell("th", `${line.name}, ${line.what} (${curve.unit})`, { scope: "col", className: "number" })));
  table.tHead.replaceChildren(head);
  const rows = curve.clock.map((at, index) => {
    const row = document.createElement("tr");
    row.append(cell("th", at, { scope: "row" }), ...curve.lines.map((line) => cell("td", line.values[index] === null ? "–" : number.format(line.values[index]), { className: "number" })));
    return row;
  });
  table.tBodies[0].replaceChildren(...rows.reverse());
}
