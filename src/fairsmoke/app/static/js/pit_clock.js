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

/** Return the moment at which clocks of a zone show that. Of two (clocks went back) the one nearer
    to now; of none (clocks went forward over it) the one that an hour's shift gives. A typed minute is that minute:
    the seconds of the tap would put it behind a logger's row of the same minute. */
export function moment(text, zone) {
  const plain = Date.parse(`${text}:00Z`);
  const guesses = [-26, 26].map((hours) => {
    const near = plain + hours * 3_600_000;
    return plain - (Date.parse(`${wall(near, zone)}:00Z`) - Math.floor(near / 60_000) * 60_000);
  });
  const exact = guesses.filter((ms) => wall(ms, zone) === text);
  const pool = exact.length ? exact : guesses;
  const found = pool.reduce((one, other) => (Math.abs(other - Date.now()) < Math.abs(one - Date.now()) ? other : one));
  return new Date(found);
}
