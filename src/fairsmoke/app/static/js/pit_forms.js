// Forms of a cook become entries on the phone; entries/from_form.py does the same without scripts.
import { record } from "./record.js";
import { told } from "./pit_bar.js";
import { moment, wall } from "./pit_clock.js";

const LISTS = ["pieces", "sum"], SPOTS = ["to", "spot"], OURS = ["csrf", "lb", "oz", "unit", "other", "place", "id"];

/** Return the entry that a form says, with the button that sent it. */
export function entryOf(form, button, root) {
  const { trial, id: cook, zone } = root.dataset;
  const entry = { trial, cook }, all = new FormData(form, button);
  for (const [name, raw] of all) {
    const value = typeof raw === "string" ? raw.trim() : "";
    if (!value) continue;
    if (LISTS.includes(name)) entry[name] = [...(entry[name] ?? []), ...value.split("+").map((part) => part.trim())];
    else if (SPOTS.includes(name)) entry[name] = spot(value);
    else if (name === "at") entry.at = moment(value, zone).toISOString();
    else if (!OURS.includes(name)) entry[name] = value;
  }
  entry.at ??= new Date().toISOString();
  const said = Object.fromEntries(all);
  if (entry.kind === "probe") Object.assign(entry, place(said.place));
  if (entry.kind === "reading") entry.unit = said.unit;
  if (entry.set) entry.set = `${entry.set} ${said.unit}`;
  if (entry.kind === "weighing") {
    const other = (said.other ?? "").split("+").map((part) => part.trim()).filter(Boolean);
    entry.sum = [...(entry.sum ?? []), ...other];
    entry.reading = said.lb || said.oz
      ? [[said.lb, "lb"], [said.oz, "oz"]].filter(([value]) => value).map((one) => one.join(" ")).join(" ")
      : `${entry.reading ?? ""} ${said.unit ?? ""}`.trim();
  }
  return entry;
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

export function wireForms(root) {
  // One listener for all: parts of the page are replaced while it is open.
  root.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.matches("[data-record]")) return;
    event.preventDefault();
    const button = event.submitter;
    const entry = entryOf(form, button, root);
    if (form.checkDoubt && !(await form.checkDoubt(entry, button))) return;
    if (entry.kind === "reading" && isOdd(form, entry, root)) return;
    if (entry.kind === "event" && (await isTwice(form, entry, button, root))) return;
    const id = await record(entry);
    told({ id, entry, says: button?.dataset.says ?? form.dataset.says ?? "", value: entry.value ?? entry.reading ?? entry.set });
    // What was said by a button only, or by a choice, stays as it is; typed text and times go.
    form.querySelectorAll("input[data-keyed], textarea, input[name=at], input[name=set], input[name=note]").forEach((one) => { one.value = ""; });
    form.dispatchEvent(new CustomEvent("recorded"));
  });
  root.querySelectorAll("[data-nudges]").forEach((one) => { one.hidden = false; });
  root.addEventListener("click", (event) => {
    const nudge = event.target.closest("[data-nudge]");
    if (!nudge) return;
    const field = nudge.closest("details, form").querySelector("input[type=datetime-local]");
    const from = field.value ? moment(field.value, root.dataset.zone).getTime() : Date.now();
    field.value = wall(from + Number(nudge.dataset.nudge) * 60_000, root.dataset.zone);
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
  const { least, most } = form.elements.probe.selectedOptions[0].dataset, box = form.querySelector("[data-odd]");
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
