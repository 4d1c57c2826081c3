// The weighing form: the sum in words, and the check against the last one, without a connection too.
// The rule is that of weighing/plausible.py, and a test holds the two together.
import { all } from "./queue.js";
import { entryOf } from "./pit_forms.js";

const UNKNOWN_PART_KG = 0.3, GAIN_KG = 0.03, GAIN_SHARE = 0.01, LEAST_LEFT = 0.35, LEAST_SERVED = 0.2;
const ORDER = ["bought", "trimmed", "cooked", "held", "served"];
const UNITS = { kg: 1, g: 0.001, lb: 0.45359237, oz: 0.028349523125 };

const stateOf = (sum) => {
  const found = sum.filter((part) => part.endsWith(" meat")).map((part) => part.slice(0, -5));
  return found.length === 1 && ORDER.includes(found[0]) ? found[0] : null;
};
const others = (sum) => sum.filter((part) => !part.endsWith(" meat"));
const isTray = (part) => part === "tray" || part.endsWith(" tray");
const whose = (part, piece) => `${isTray(part) ? "" : piece}/${part}`;

/** Return a mass in kg from "2.135 kg", "7 lb 6 oz"; NaN when it says none. */
export function kilograms(text) {
  const found = [...text.replaceAll(",", ".").matchAll(/([0-9.]+)\s*(kg|g|lb|oz)/g)];
  return found.length ? found.reduce((sum, [, value, unit]) => sum + Number(value) * UNITS[unit], 0) : NaN;
}

/** Return {kind, now, before} of what is odd about a weighing, or null. */
export function doubtOf(weighings, piece, parts, kg, injected) {
  const alone = new Map();
  for (const one of weighings) if (one.sum.length === 1) alone.set(whose(one.sum[0], one.piece), one.kg);
  const known = (sum) => others(sum).reduce((total, part) => total + (alone.get(whose(part, piece)) ?? 0), 0);
  const unknown = (sum) => others(sum).filter((part) => !alone.has(whose(part, piece)));
  const bounds = (sum, reading) => {
    const missing = unknown(sum), most = reading - known(sum);
    const room = missing.some(isTray) ? reading : UNKNOWN_PART_KG * missing.length;
    return [Math.max(0, most - room), most];
  };
  const tare = known(parts), state = stateOf(parts);
  if (kg < tare - GAIN_KG) return { kind: "less", now: kg, before: tare };
  const last = weighings.findLast((one) => one.piece === piece && stateOf(one.sum));
  if (!state || !last || unknown(parts).some(isTray)) return null;
  const before = stateOf(last.sum);
  if (ORDER.indexOf(before) > ORDER.indexOf(state)) return null;
  const [least, most] = bounds(parts, kg), [lastLeast, lastMost] = bounds(last.sum, last.kg);
  if (least > lastMost + Math.max(GAIN_KG, GAIN_SHARE * lastMost) && !(injected && before === "bought" && state === "trimmed")) {
    return { kind: "gained", now: least, before: lastMost };
  }
  if (most < (state === "served" ? LEAST_SERVED : LEAST_LEFT) * lastLeast) return { kind: "lost", now: most, before: lastLeast };
  return null;
}

function written(kg, mass) {
  if (mass === "kg") return `${kg.toLocaleString(document.documentElement.lang, { minimumFractionDigits: 3, maximumFractionDigits: 3 })} kg`;
  const ounces = kg / UNITS.oz;
  return `${Math.floor(ounces / 16)} lb ${(ounces % 16).toFixed(1)} oz`;
}

export function wire(root) {
  const form = root.querySelector("[data-weigh]"), words = root.querySelector("[data-weigh-words]").dataset;
  const data = JSON.parse(root.querySelector("[data-weighed]").textContent);
  const said = form.querySelector("[data-sum]"), box = form.querySelector("[data-doubt]");

  function showSum() {
    const sum = entryOf(form, null, root).sum ?? [];
    said.hidden = !sum.length;
    said.textContent = `${words.lies} ${sum.join(" + ")}`;
    box.hidden = true;
    box.replaceChildren();
  }

  form.addEventListener("change", (event) => {
    const likely = event.target.name === "piece" ? event.target.dataset.likely : null;
    if (likely) form.querySelector("select[name=sum]").value = likely;
    showSum();
  });
  form.addEventListener("input", showSum);
  form.addEventListener("recorded", showSum);

  form.checkDoubt = async (entry) => {
    if (box.dataset.sure) { delete box.dataset.sure; note(entry); return true; }
    // What waits on this phone was weighed too, unless it was taken back.
    const kept = (await all()).filter((item) => !item.refused && item.body.trial === entry.trial);
    const undone = new Set(kept.filter((item) => item.kind === "undo").map((item) => item.body.of));
    const waiting = kept.filter((item) => item.kind === "weighing" && !undone.has(item.id)).map((item) => seen(item.body));
    const recent = [...data.weighings, ...waiting, ...sent.map(seen)];
    const doubt = doubtOf(recent, entry.piece ?? "", entry.sum, kilograms(entry.reading), data.injected.includes(entry.piece));
    if (!doubt) { note(entry); return true; }
    const text = document.createElement("p"), button = document.createElement("button");
    text.textContent = words[doubt.kind].replace("{now}", written(doubt.now, words.mass)).replace("{before}", written(doubt.before, words.mass));
    button.type = "button";
    button.textContent = words.sure;
    button.addEventListener("click", () => { box.dataset.sure = "yes"; form.requestSubmit(); });
    box.replaceChildren(text, button);
    box.hidden = false;
    return false;
  };

  // What was recorded since the page was opened, sent or not.
  const sent = [];
  function note(entry) { sent.push(entry); }
  function seen(entry) { return { piece: entry.piece ?? "", sum: entry.sum, kg: kilograms(entry.reading) }; }
  root.addEventListener("undone", ({ detail }) => {
    const at = sent.indexOf(detail);
    if (at >= 0) sent.splice(at, 1);
  });
  showSum();
}
