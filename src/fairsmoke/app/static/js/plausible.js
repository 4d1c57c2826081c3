// Whether a weighing can be true, and what may have been meant: the rule of weighing/plausible.py
// and weighing/meant.py, with the limits that the page brings; a test holds the two together.

const stateOf = (rules, sum) => {
  const found = sum.filter((part) => part.endsWith(" meat")).map((part) => part.slice(0, -5));
  return found.length === 1 && rules.order.includes(found[0]) ? found[0] : null;
};
const others = (sum) => sum.filter((part) => !part.endsWith(" meat"));
const kindOf = (rules, part) => [...rules.kinds].sort((a, b) => b.length - a.length).find((kind) => part === kind || part.endsWith(` ${kind}`));
const isTray = (part) => part === "tray" || part.endsWith(" tray");
const whose = (part, piece) => `${isTray(part) ? "" : piece}/${part}`;
const groupOf = (state) => ({ bought: "raw", trimmed: "raw", served: "served" })[state] ?? "cooked";
const isRaw = (state) => groupOf(state) === "raw";

/** Return a mass in kg from "2.135 kg", "7 lb 6 oz"; NaN when it says none. */
export function kilograms(rules, text) {
  const found = [...text.replaceAll(",", ".").matchAll(/([0-9.]+)\s*(kg|g|lb|oz)/g)];
  return found.length ? found.reduce((sum, [, value, unit]) => sum + Number(value) * rules.units[unit], 0) : NaN;
}

/** Return what weighings tell: each part's own mass, and between which masses the meat of a sum lies. */
function weighed(rules, weighings, piece) {
  const alone = new Map();
  for (const one of weighings) if (one.sum.length === 1) alone.set(whose(one.sum[0], one.piece), one.kg);
  const known = (sum) => others(sum).reduce((total, part) => total + (alone.get(whose(part, piece)) ?? 0), 0);
  const unknown = (sum) => others(sum).filter((part) => !alone.has(whose(part, piece)));
  const bounds = (sum, kg) => {
    const missing = unknown(sum), most = kg - known(sum);
    return [Math.max(0, most - (missing.some(isTray) ? kg : rules.unknownPart * missing.length)), most];
  };
  const juicy = (sum) => unknown(sum).some((part) => ["wrap", "drippings"].includes(kindOf(rules, part)));
  return { known, unknown, bounds, juicy };
}

function loss(rules, [before, earlier], [after, later], injected, mayKeep) {
  const mayGain = injected && earlier === "bought" && later === "trimmed";
  if (after[0] > before[1] + Math.max(rules.gain, rules.gainShare * before[1]) && !mayGain) return { kind: "gained", now: after[0], before: before[1] };
  if (after[1] < rules.leastLeft[`${groupOf(earlier)} ${groupOf(later)}`] * before[0]) return { kind: "lost", now: after[1], before: before[0] };
  const cooked = isRaw(earlier) && !isRaw(later);
  if (cooked && !mayKeep && after[0] > rules.mostLeft * before[1]) return { kind: "hardly lost", now: after[0], before: before[1] };
  return null;
}

function lessThanItsTray(rules, weighings, piece, parts, kg) {
  const tare = weighed(rules, weighings, piece).known(parts);
  return others(parts).length < parts.length && kg < tare - rules.gain ? { kind: "less than its tray", now: kg, before: tare } : null;
}

const TURNED = { gained: "lost", lost: "gained" };

/** Return {kind, now, before} of what is odd about a weighing beside others, or null. */
export function doubtOf(rules, weighings, piece, parts, kg, injected) {
  const { unknown, bounds, juicy } = weighed(rules, weighings, piece), light = lessThanItsTray(rules, weighings, piece, parts, kg);
  if (light) return light;
  const state = stateOf(rules, parts), place = rules.order.indexOf(state);
  const load = (sum, owner) => sum.map((part) => whose(part, owner)).sort().join("|"), this_ = load(parts, piece);
  const same = weighings.findLast((one) => load(one.sum, one.piece) === this_);
  if (same) {
    const apart = Math.abs(same.kg - kg) > Math.max(rules.gain, 2 * rules.gainShare * Math.max(same.kg, kg));
    return apart ? { kind: "weighed otherwise", now: kg, before: same.kg } : null;
  }
  if (!state || unknown(parts).some(isTray)) return null;
  const own = weighings.filter((one) => one.piece === piece && stateOf(rules, one.sum));
  const at = (one) => rules.order.indexOf(stateOf(rules, one.sum));
  for (const other of [own.findLast((one) => at(one) <= place), own.findLast((one) => at(one) > place)].filter(Boolean)) {
    const now = [bounds(parts, kg), state], then = [bounds(other.sum, other.kg), stateOf(rules, other.sum)];
    if (at(other) <= place) {
      const found = loss(rules, then, now, injected, injected || juicy(parts));
      if (found) return found;
    } else {
      const found = loss(rules, now, then, injected, injected || juicy(other.sum));
      if (found) return { kind: TURNED[found.kind] ?? found.kind, now: found.before, before: found.now };
    }
  }
  return null;
}

function twice(rules, weighings, entry) {
  const sum = entry.sum.join("|"), at = Date.parse(entry.at);
  const found = weighings.find((one) => one.piece === entry.piece && one.kg === entry.kg && one.sum.join("|") === sum
    && Math.abs(Date.parse(one.at) - at) <= 1000 * rules.twiceWithin);
  return found ? { kind: "twice", now: entry.kg, before: found.kg } : null;
}

function outside(kind, [least, most], [low, high]) {
  if (least > high) return { kind, now: least, before: high };
  return most < low ? { kind, now: most, before: low } : null;
}

function byItself({ rules, pieces }, weighings, entry) {
  const state = stateOf(rules, entry.sum);
  if (!state) {
    const ends = entry.sum.map((part) => rules.other[kindOf(rules, part)] ?? [0, Infinity]);
    const sum = [0, 1].map((at) => ends.reduce((total, one) => total + one[at], 0));
    return outside("not like such a part", [entry.kg, entry.kg], sum);
  }
  const piece = pieces[entry.piece], meat = weighed(rules, weighings, entry.piece).bounds(entry.sum, entry.kg);
  if (!piece) return null;
  if (piece.planned && isRaw(state)) {
    const found = outside("not as planned", meat, rules.planned.map((share) => share * piece.planned));
    return found && { ...found, before: piece.planned };
  }
  const [low, high] = piece.raw;
  return outside("not like its cut", meat, [isRaw(state) ? low : low * rules.leastLeft["raw served"], high]);
}

function odd(data, weighings, entry) {
  const injected = data.pieces[entry.piece]?.injected ?? false;
  return twice(data.rules, weighings, entry)
    ?? lessThanItsTray(data.rules, weighings, entry.piece, entry.sum, entry.kg) ?? byItself(data, weighings, entry)
    ?? doubtOf(data.rules, weighings, entry.piece, entry.sum, entry.kg, injected);
}

/** Return {kind, now, before, meant} of an odd entry {piece, sum, kg, at, reading}, or null. */
export function doubtIn(data, weighings, entry) {
  const found = odd(data, weighings, entry);
  if (!found) return null;
  const meant = [];
  for (const changes of candidates(data, weighings, entry)) {
    if (meant.length === data.rules.mostMeant) break;
    const kg = changes.reading ? kilograms(data.rules, changes.reading) : entry.kg;
    if (!odd(data, weighings, { ...entry, ...changes, kg })) meant.push(changes);
  }
  return { ...found, meant };
}

const SHIFTS = [10, 0.1, 100, 0.01, 1000, 0.001];
const short = (value) => String(Number(value.toPrecision(6)));

function* candidates({ rules, pieces }, weighings, entry) {
  const numbers = [...entry.reading.matchAll(/\d+(?:[.,]\d+)?/g)];
  if (numbers.length === 1) {
    const [number] = numbers[0], unit = entry.reading.slice(numbers[0].index + number.length).trim();
    for (const other of Object.keys(rules.units)) if (other !== unit) yield { reading: `${number} ${other}` };
    for (const shift of SHIFTS) yield { reading: `${short(Number(number.replace(",", ".")) * shift)} ${unit}` };
    for (const other of swapped(number)) yield { reading: `${other} ${unit}` };
  } else if (numbers.length === 2) {
    const [first, second] = numbers.map((one) => one[0]), units = entry.reading.match(/[a-z]+/g) ?? [];
    if (units.length === 2) {
      yield { reading: `${second} ${units[0]} ${first} ${units[1]}` };
      for (const unit of ["lb", "kg"]) yield { reading: `${first}.${second} ${unit}` };
    }
  }
  yield* trays(weighings, entry);
  const cook = pieces[entry.piece]?.cook;
  for (const [id, one] of Object.entries(pieces)) if (entry.piece && id !== entry.piece && one.cook === cook) yield { piece: id };
}

function* swapped(number) {
  const at = [...number].flatMap((letter, place) => (/\d/.test(letter) ? [place] : []));
  for (let place = 0; place + 1 < at.length; place += 1) {
    const letters = [...number], [one, other] = [at[place], at[place + 1]];
    if (letters[one] === letters[other]) continue;
    [letters[one], letters[other]] = [letters[other], letters[one]];
    yield letters.join("");
  }
}

function* trays(weighings, entry) {
  const own = entry.sum.filter(isTray);
  if (own.length && entry.sum.length > own.length) yield { sum: entry.sum.filter((part) => !isTray(part)) };
  if (own.length || !entry.sum.some((part) => part.endsWith(" meat"))) return;
  const known = new Set(weighings.filter((one) => one.sum.length === 1 && !one.piece).map((one) => one.sum[0]));
  const used = weighings.filter((one) => one.piece === entry.piece).reverse().flatMap((one) => one.sum.filter(isTray));
  for (const tray of new Set(used)) if (known.has(tray)) yield { sum: [...entry.sum, tray] };
}
