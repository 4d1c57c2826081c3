// Forms of a cook become entries on the phone; entries/from_form.py does the same without scripts.
import { record } from "./record.js";
import { all, onChange, remove } from "./queue.js";
import { told } from "./pit_bar.js";
import { moment, setTime, timeProblem, whichOf, wireTimes } from "./pit_clock.js";

const LISTS = ["pieces", "sum"], SPOTS = ["to", "spot"], OURS = ["csrf", "lb", "oz", "unit", "other", "place", "id", "hour"];

/** Return the entry that a form says, with the button that sent it. */
export function entryOf(form, button, root) {
  const { trial, id: cook, zone } = root.dataset;
  const entry = { trial, cook }, said = new FormData(form, button);
  for (const [name, raw] of said) {
    const value = typeof raw === "string" ? raw.trim() : "";
    if (!value) continue;
    if (LISTS.includes(name)) entry[name] = [...(entry[name] ?? []), ...value.split("+").map((part) => part.trim())];
    else if (SPOTS.includes(name)) entry[name] = spot(value);
    else if (name === "at") entry.at = moment(value, zone, said.get("hour") ?? "").toISOString();
    else if (!OURS.includes(name)) entry[name] = value;
  }
  if (entry.kind === "score") scored(entry, said);
  if (entry.kind === "estimate") return estimated(entry, said.get("unit"));
  entry.at ??= new Date().toISOString();
  const field = Object.fromEntries(said);
  if (entry.kind === "probe") Object.assign(entry, place(field.place));
  if (entry.kind === "reading") Object.assign(entry, shownDegrees(entry.value, field.unit));
  if (entry.set) entry.set = withUnit(entry.set, field.unit);
  if (entry.kind === "weighing") {
    const other = (field.other ?? "").split("+").map((part) => part.trim()).filter(Boolean);
    entry.sum = [...(entry.sum ?? []), ...other];
    const both = field.unit === "lb oz" && bare(entry.reading);
    entry.reading = both
      ? [[entry.reading, "lb"], [field.oz, "oz"]].filter(([value]) => value).map((one) => one.join(" ")).join(" ")
      : withUnit(entry.reading ?? "", field.unit);
  }
  return entry;
}

// A typed score beside the buttons stands for the piece; both have its name.
function scored(entry, said) {
  entry.scores = {};
  for (const [name, raw] of said) {
    if (!name.startsWith("score-")) continue;
    delete entry[name];
    if (raw.trim()) entry.scores[name.slice(6)] = Number(raw.trim().replace(",", "."));
  }
  entry.cooked = Boolean(said.get("cooked"));
  if (entry.taster === "new") delete entry.taster; else delete entry.taster_name;
}

function estimated(entry, unit) {
  for (const name of ["low", "best", "high"]) if (entry[name]) entry[name] = withUnit(entry[name], unit);
  return entry;
}

// A bare number is in the unit that stands beside the field; what has a unit keeps it.
const bare = (text) => /^-?[0-9]+([.,][0-9]+)?$/.test(text ?? "");
const withUnit = (text, unit) => (unit && bare(text) ? `${text} ${unit}` : text);

/** Return {value, unit} of a temperature as it was read: "203", "203 °F", "95 C". */
function shownDegrees(text, unit) {
  const found = /^(-?[0-9.,]+)\s*°?\s*([cf])$/i.exec(text ?? "");
  return found ? { value: found[1], unit: `deg${found[2].toUpperCase()}` } : { value: text, unit };
}

function spot(value) {
  const [cooker, position] = value.split("/");
  return { cooker, position };
}

function place(value) {
  const [measures, where] = [value.slice(0, value.indexOf(":")), value.slice(value.indexOf(":") + 1)];
  if (measures === "out") return {};
  if (measures === "core" || measures === "surface") return { measures, piece: where };
  return where.includes("/") ? { measures, spot: spot(where) } : { measures };
}

// What the app will not take comes back into its form as it was typed, with the reason; what was
// refused goes from the phone only once the form is recorded anew.
const typed = new Map();

function remember(id, form) {
  if (form.refused) remove(form.refused);
  form.refused = null;
  form.querySelector("[data-refused]")?.remove();
  const values = [...form.elements].filter((one) => one.name && one.type !== "hidden").map((one) => [one, one.value, one.checked]);
  typed.set(id, { form, values });
}

async function giveBack() {
  if (!typed.size) return;
  const kept = new Map((await all()).map((item) => [item.id, item]));
  for (const [id, { form, values }] of typed) {
    const item = kept.get(id);
    if (item && !item.refused) continue;
    typed.delete(id);
    if (!item) continue;
    for (const [one, value, checked] of values) {
      if (["radio", "checkbox"].includes(one.type)) one.checked = checked; else one.value = value;
    }
    const box = document.createElement("p");
    box.className = "wrong";
    box.setAttribute("role", "alert");
    box.dataset.refused = "";
    box.textContent = item.refused;
    form.querySelector("button.main")?.before(box);
    form.refused = item.order;
    box.scrollIntoView({ block: "nearest" });
  }
}

export function wireForms(root) {
  onChange(giveBack);
  // One listener for all: parts of the page are replaced while it is open.
  root.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.matches("[data-record]")) return;
    event.preventDefault();
    const button = event.submitter, timed = form.querySelector("input[type=datetime-local]");
    if (timed && timeProblem(timed, root.dataset.zone)) return;
    const entry = entryOf(form, button, root);
    if (form.checkDoubt && !(await form.checkDoubt(entry, button))) return;
    if (entry.kind === "reading" && isOdd(form, entry, root)) return;
    if (entry.kind === "event" && (await isTwice(form, entry, button, root))) return;
    const id = await record(entry);
    told({ id, entry, says: button?.dataset.says ?? form.dataset.says ?? "", value: entry.value ?? entry.reading ?? entry.set });
    // What was said by a button only, or by a choice, stays as it is; typed text and times go.
    remember(id, form);
    form.querySelectorAll("input[data-keyed], input[data-between], textarea, input[name=at], input[name=set], input[name=note], input[name=why], input[name=taster_name]").forEach((one) => { one.value = ""; });
    form.querySelectorAll(".points input[type=radio], [data-which] input").forEach((one) => { one.checked = false; });
    form.dispatchEvent(new CustomEvent("recorded"));
  });
  wireTimes(root);
  root.querySelectorAll("[data-nudges]").forEach((one) => { one.hidden = false; });
  root.addEventListener("click", (event) => {
    const nudge = event.target.closest("[data-nudge]");
    if (!nudge) return;
    const field = nudge.closest("details, form").querySelector("input[type=datetime-local]");
    const from = field.value ? moment(field.value, root.dataset.zone, whichOf(field)).getTime() : Date.now();
    setTime(field, from + Number(nudge.dataset.nudge) * 60_000, root.dataset.zone);
  });
  // Another scale or probe shows another unit.
  root.addEventListener("change", ({ target }) => {
    const shows = target.selectedOptions?.[0]?.dataset.shows;
    if (shows) target.form.querySelector("[data-unit]").value = shows;
  });
  root.querySelectorAll("[data-keys]").forEach(wireKeys);
}

// The same thing done twice within two minutes is a button pressed twice: asked about here too, for
// without a connection the app cannot.
let lastEvent = null;
async function isTwice(form, entry, button, root) {
  const before = lastEvent, said = [entry.event, ...(entry.pieces ?? [])].join(" ");
  const near = before && before.said === said && Math.abs(Date.parse(entry.at) - before.at) < 120_000;
  if (entry.pieces && near && !window.confirm(root.querySelector("[data-pit-words]").dataset.twice)) return true;
  if (near) entry.insist = true;
  lastEvent = { said, at: Date.parse(entry.at) };
  return false;
}

// A digit too many is asked about before it is recorded: a core of 715 °C would count as done.
function isOdd(form, entry, root) {
  const ends = form.elements.probe.selectedOptions[0].dataset, box = form.querySelector("[data-odd]");
  // The usual range is in °C, and is said in the unit of what was read.
  const inUnit = (text) => (text === undefined ? undefined : (entry.unit === "degF" ? 1.8 * Number(text) + 32 : Number(text)).toFixed(1));
  const least = inUnit(ends.least), most = inUnit(ends.most);
  const value = Number(entry.value.replace(",", "."));
  if (most === undefined || box.dataset.sure === entry.value || (value >= Number(least) && value <= Number(most))) {
    if (box.dataset.sure === entry.value) entry.insist = true;
    box.hidden = true;
    delete box.dataset.sure;
    return false;
  }
  box.querySelector("p").textContent = `${root.querySelector("[data-pit-words]").dataset.odd} ${least} – ${most}.`;
  box.querySelector("button").onclick = () => { box.dataset.sure = entry.value; form.requestSubmit(); };
  box.hidden = false;
  return true;
}

function wireKeys(keys) {
  const form = keys.closest("form");
  let field = form.querySelector("[data-keyed]");
  form.querySelectorAll("[data-keyed]").forEach((one) => one.addEventListener("focus", () => { field = one; }));
  keys.hidden = false;
  keys.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]")?.dataset.key;
    if (!key) return;
    if (key === "back") field.value = field.value.slice(0, -1);
    else if (key !== "." || !field.value.includes(".")) field.value += key;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
}
