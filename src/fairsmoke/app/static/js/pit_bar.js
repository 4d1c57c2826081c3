// What was just recorded, with undo; and the dialog that puts an event right: time, note, photo.
import { all, onChange, settle } from "./queue.js";
import { record } from "./record.js";
import { send } from "./send.js";
import { small } from "./photo.js";
import { clockOf, hourOf, moment, setTime, timeProblem, wall, whichOf } from "./pit_clock.js";

let root, bar, dialog, words, last = null, changing = null;

export function wireChanges(given) {
  root = given;
  bar = root.querySelector("[data-bar]");
  dialog = root.querySelector("[data-dialog]");
  words = root.querySelector("[data-pit-words]")?.dataset;
  if (!bar) return;
  bar.querySelector("[data-bar-undo]").addEventListener("click", () => undo(last));
  bar.querySelector("[data-bar-close]").addEventListener("click", () => { bar.hidden = true; });
  bar.querySelector("[data-bar-change]").addEventListener("click", () => open(last));
  root.querySelectorAll("[data-change]").forEach((one) => { one.hidden = false; });
  root.addEventListener("click", (event) => {
    const button = event.target.closest("[data-change]");
    if (!button) return;
    const { event: handle, of, at, note, what } = button.dataset;
    open({ handle, id: of || null, at: Date.parse(at), note, says: what });
  });
  dialog.addEventListener("close", save);
  dialog.querySelector("form").addEventListener("submit", (event) => {
    if (event.submitter?.value === "save" && timeProblem(dialog.querySelector("[data-dialog-at]"), root.dataset.zone)) event.preventDefault();
  });
  onChange(showState);
}

/** Say what was just recorded. */
export function told({ id, entry, says, value }) {
  last = { id, entry, says: [says, value].filter(Boolean).join(" "), at: Date.parse(entry.at ?? new Date().toISOString()), note: entry.note ?? "", undone: false };
  const clock = clockOf(last.at, root.dataset.zone);
  bar.querySelector("[data-bar-what]").textContent = [last.says, clock].filter(Boolean).join(", ");
  // What was said of the entry before is not said of this one until its state is known.
  bar.querySelector("[data-bar-state]").textContent = "";
  bar.querySelector("[data-bar-undo]").hidden = false;
  bar.querySelector("[data-bar-change]").hidden = entry.kind !== "event";
  bar.hidden = false;
  showState();
}

async function showState() {
  if (!last || bar.hidden) return;
  const asked = last, kept = await all(), item = kept.find((one) => one.id === asked.id);
  // Another entry came meanwhile: the state is asked for anew with it.
  if (asked !== last) return;
  const state = item?.refused ? words.wrong : last.undone ? words.undone : item ? words.waits : words.kept;
  bar.querySelector("[data-bar-state]").textContent = item?.likely ? item.refused : state;
  bar.querySelector("[data-bar-answers]").replaceChildren(...(item?.likely ? answers(item) : []));
}

// What the app doubts is settled here with one tap: as it was likely meant, or as it is.
function answers(item) {
  const meant = item.likely.map(({ says, changes }) => [says, changes.sum ? { ...changes, sum: changes.sum.split(" + ") } : changes, "main"]);
  return [...meant, [words.insist, { insist: true }, ""]].map(([says, changes, look]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = look;
    button.textContent = says;
    button.addEventListener("click", async () => { await settle(item, changes); send(); });
    return button;
  });
}

async function undo(what) {
  if (!what) return;
  const { trial, id: cook } = root.dataset, entry = what.entry;
  if (entry?.kind === "reading") {
    // A reading stays recorded and is left out: just this one, to the millisecond.
    const until = new Date(Date.parse(entry.at) + 1).toISOString();
    await record({ kind: "omit", trial, cook, probe: entry.probe, since: entry.at, until, at: new Date().toISOString() });
  } else if (what.id) {
    await record({ kind: "undo", trial, of: what.id });
  }
  what.undone = true;
  root.dispatchEvent(new CustomEvent("undone", { detail: entry }));
  if (what === last) {
    bar.querySelector("[data-bar-undo]").hidden = bar.querySelector("[data-bar-change]").hidden = true;
    showState();
  }
}

function open(what) {
  if (!what) return;
  changing = what;
  dialog.querySelector("[data-dialog-what]").textContent = what.says;
  setTime(dialog.querySelector("[data-dialog-at]"), what.at, root.dataset.zone);
  dialog.querySelector("[data-dialog-note]").value = what.note;
  dialog.querySelector("[data-dialog-photo]").value = "";
  dialog.querySelector("[data-dialog-undo]").hidden = !what.id;
  dialog.returnValue = "";
  dialog.showModal();
}

async function save() {
  const what = changing, { trial, zone } = root.dataset;
  changing = null;
  if (!what || !["save", "undo"].includes(dialog.returnValue)) return;
  if (dialog.returnValue === "undo") return undo(what);
  const named = what.id ? { of: what.id } : { event: what.handle };
  const field = dialog.querySelector("[data-dialog-at]"), at = field.value, which = whichOf(field), note = dialog.querySelector("[data-dialog-note]").value.trim();
  const changes = {};
  if (at && (at !== wall(what.at, zone) || which !== hourOf(what.at, zone))) changes.at = moment(at, zone, which).toISOString();
  if (note !== what.note) changes.note = note;
  if (Object.keys(changes).length) {
    await record({ kind: "mend", trial, ...named, ...changes });
    what.at = changes.at ? Date.parse(changes.at) : what.at;
    what.note = note;
  }
  const file = dialog.querySelector("[data-dialog-photo]").files[0];
  if (file) await record({ kind: "photo", trial, ...named }, await small(file));
}
