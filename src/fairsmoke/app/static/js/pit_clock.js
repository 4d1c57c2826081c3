// Times: those of the clocks at the cooker, and how long ago something was.

/** Return "2 h 10 min", as the app writes it. */
export function span(ms) {
  const minutes = Math.max(0, Math.round(ms / 60_000));
  const hours = Math.floor(minutes / 60), days = Math.floor(hours / 24);
  if (days >= 2) return [`${days} d`, hours % 24 ? `${hours % 24} h` : ""].filter(Boolean).join(" ");
  return [hours ? `${hours} h` : "", minutes % 60 || !hours ? `${minutes % 60} min` : ""].filter(Boolean).join(" ");
}

/** Write into each [data-since] how long ago that is. */
export function tick(root) {
  for (const one of root.querySelectorAll("[data-since]")) {
    const text = span(Date.now() - Date.parse(one.dataset.since));
    if (one.textContent !== text) one.textContent = text;
  }
}

/** Return what clocks of a zone show at a moment, as a field for times wants it. */
export function wall(ms, zone) {
  const parts = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone, hourCycle: "h23", year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit",
  }).formatToParts(new Date(ms));
  const part = Object.fromEntries(parts.map((one) => [one.type, one.value]));
  return `${part.year}-${part.month}-${part.day}T${part.hour}:${part.minute}`;
}

/** Return the moments (ms) at which clocks of a zone show that: none, one, or two where they went back. */
export function instants(text, zone) {
  return [...new Set(guessed(text, zone).filter((ms) => wall(ms, zone) === text))].sort((one, other) => one - other);
}

/** Return what a clock shows at a moment, with the zone's own short name where that comes twice. */
export function clockOf(ms, zone) {
  const shown = wall(ms, zone).slice(11);
  if (!hourOf(ms, zone)) return shown;
  const parts = new Intl.DateTimeFormat("en-GB", { timeZone: zone, timeZoneName: "short" }).formatToParts(new Date(ms));
  return `${shown} ${parts.find((one) => one.type === "timeZoneName").value}`;
}

/** Return "first" or "second" for a moment whose hour comes twice, "" for any other. */
export function hourOf(ms, zone) {
  const both = instants(wall(ms, zone), zone);
  if (both.length < 2) return "";
  return Math.floor(ms / 60_000) * 60_000 === both[0] ? "first" : "second";
}

function guessed(text, zone) {
  const plain = Date.parse(`${text}:00Z`);
  return [-26, 26].map((hours) => {
    const near = plain + hours * 3_600_000;
    return plain - (Date.parse(`${wall(near, zone)}:00Z`) - Math.floor(near / 60_000) * 60_000);
  });
}

/** Return the moment at which clocks of a zone show that. Of two (clocks went back) the one that is said, else the
    one nearer to now; of none (clocks went forward over it) the one that an hour's shift gives. A typed minute is that minute:
    the seconds of the tap would put it behind a logger's row of the same minute. */
export function moment(text, zone, which = "") {
  const exact = instants(text, zone);
  if (exact.length === 2 && which) return new Date(exact[which === "first" ? 0 : 1]);
  const pool = exact.length ? exact : guessed(text, zone);
  const found = pool.reduce((one, other) => (Math.abs(other - Date.now()) < Math.abs(one - Date.now()) ? other : one));
  return new Date(found);
}

/** Return whether a field's time cannot be taken as it is typed, and say so there: it comes twice and nobody said which
    is meant, or the clocks went over it. */
export function timeProblem(field, zone) {
  const found = field.value ? instants(field.value, zone).length : 1;
  const said = whichOf(field);
  const words = found === 0 ? field.dataset.never : found === 2 && !said ? field.dataset.twice : "";
  field.setCustomValidity(words);
  if (!words) return false;
  for (let place = field.parentElement; place; place = place.parentElement) if (place.tagName === "DETAILS") place.open = true;
  const which = hours(field);
  if (found === 2 && which) which.open = true;
  field.reportValidity();
  return true;
}

function hours(field) {
  return field.closest("form").querySelector("[data-which]");
}

/** Return which of two hours is said beside a field for times. */
export function whichOf(field) {
  return hours(field)?.querySelector("input:checked")?.value ?? "";
}

/** Write a moment into a field for times, and which of two hours it lies in. */
export function setTime(field, ms, zone) {
  field.value = wall(ms, zone);
  field.setCustomValidity("");
  const which = hours(field), said = hourOf(ms, zone);
  which?.querySelectorAll("input").forEach((one) => { one.checked = one.value === said; });
  if (said && which) which.open = true;
}

/** Let a field be sent again once its time, or which hour is meant, was changed. */
export function wireTimes(root) {
  root.addEventListener("input", (event) => {
    event.target.closest("form")?.querySelectorAll("input[type=datetime-local]").forEach((one) => one.setCustomValidity(""));
  });
}
