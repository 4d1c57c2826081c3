// Draws the temperature curves: zooms by asking for the numbers of a shorter stretch, so that a
// point always stands for a pixel; reads the curves out where one points.
import { keepDrawn } from "./chart.js";

const figure = document.querySelector("[data-curves]");
const readout = figure.querySelector("[data-readout]");
const LEAST_MS = 60_000, HOUR_MS = 3_600_000;
let since = new Date(figure.dataset.since), until = new Date(figure.dataset.until);
const clock = new Intl.DateTimeFormat(figure.dataset.locale === "en" ? "en-GB" : figure.dataset.locale, {
  hour: "2-digit", minute: "2-digit", second: "2-digit",
  hour12: figure.dataset.twelve === "yes", timeZone: figure.dataset.zone,
});
const degrees = new Intl.NumberFormat(figure.dataset.locale, { minimumFractionDigits: 1, maximumFractionDigits: 1 });

function listen(view, spec) {
  const about = spec.usermeta;
  [since, until] = [new Date(about.since), new Date(about.until)];
  const starts = new Date(about.starts).getTime();
  const rows = Object.values(spec.datasets)[0] ?? [];
  const byCurve = about.curves.map((_, number) => rows.filter((row) => row.c === String(number)));
  let marked = null;
  view.addSignalListener("span_h", (_, value) => { marked = value; });
  const closer = () => {
    if (!marked) return;
    const [low, high] = marked.map((hours) => starts + hours * HOUR_MS);
    marked = null;
    if (high - low < LEAST_MS) return;
    go(new Date(low), new Date(high));
  };
  view.addEventListener("pointerup", closer);
  view.addEventListener("mouseup", closer);
  view.addEventListener("touchend", closer);
  view.addEventListener("pointermove", (event) => {
    const left = view.origin()[0];
    const hours = view.scale("x").invert(event.offsetX - left);
    read(hours, about, byCurve, starts);
  });
}

function read(hours, about, byCurve, starts) {
  const [low, high] = [since, until].map((at) => (at.getTime() - starts) / HOUR_MS);
  if (hours < low || hours > high) return;
  const near = (high - low) / 60;
  const parts = byCurve.map((rows, number) => {
    const row = rows.reduce((best, one) => (Math.abs(one.h - hours) < Math.abs((best?.h ?? 1e9) - hours) ? one : best), null);
    const value = row && Math.abs(row.h - hours) < near ? `${degrees.format(row.v)} ${about.unit}` : figure.dataset.nothing;
    return `${about.curves[number]}: ${value}`;
  });
  readout.hidden = false;
  readout.textContent = [clock.format(new Date(starts + hours * HOUR_MS)), ...parts].join(" · ");
}

function go(from, to) {
  const address = new URL(location.href);
  address.searchParams.set("since", from.toISOString());
  address.searchParams.set("until", to.toISOString());
  // A page of its own: the table, the pictures and the way back are of the same stretch.
  location.assign(address);
}

const stretch = () => ({ since: since.toISOString(), until: until.toISOString() });
await keepDrawn(figure, figure.dataset.curves, stretch, listen);
figure.querySelector("[data-how]").hidden = false;
