// The page of what waits on this phone.
import { all, onChange, remove, settle, whose } from "./queue.js";
import { send } from "./send.js";

const words = document.querySelector("[data-words]").dataset;
const hide = (mark, hidden) => document.querySelectorAll(`[data-when-${mark}]`).forEach((one) => { one.hidden = hidden; });
const clock = new Intl.DateTimeFormat(document.documentElement.lang, { timeStyle: "short", dateStyle: "medium" });

const { person, notebook } = document.body.dataset;
// What may be changed of an entry before it is sent again: what somebody typed.
const TYPED = ["value", "reading", "set", "note", "why"];

function line(item) {
  const row = document.createElement("li"), owner = whose(item, Number(person), notebook);
  if (owner !== "mine") {
    // What somebody else recorded is shown to them, not to whoever holds the phone now.
    row.textContent = `${owner === "another's" ? words.others : words.elsewhere}, ${clock.format(new Date(item.made))}`;
    row.append(button(words.remove, "danger", () => confirm(words.sure) && remove(item.order)));
    return row;
  }
  const { body } = item, about = [...(body.pieces ?? []), body.piece, body.probe, body.cooker].filter(Boolean).join(" + ");
  const what = [words[item.kind] ?? item.kind, body.event, body.value ?? body.reading, body.sum?.join(" + ")].filter(Boolean).join(" ");
  row.textContent = [what, about, clock.format(new Date(body.at ?? item.made))].filter(Boolean).join(", ");
  if (body.note) row.append(paragraph("quiet", body.note));
  if (item.refused) {
    row.append(paragraph("wrong", item.refused), ...answers(item), change(item), button(words.remove, "danger", () => remove(item.order)));
  }
  return row;
}

function paragraph(look, text) {
  const made = document.createElement("p");
  made.className = look;
  made.textContent = text;
  return made;
}

// What was set aside can be sent again: as it is, once the reason is gone, or as it is put right here.
function change(item) {
  const form = document.createElement("form"), fields = TYPED.filter((name) => typeof item.body[name] === "string");
  for (const name of fields) {
    const label = document.createElement("label"), field = document.createElement("input");
    label.textContent = words[`field${name[0].toUpperCase()}${name.slice(1)}`];
    field.name = name;
    field.value = item.body[name];
    label.append(field);
    form.append(label);
  }
  const send = button(words.again, "main", () => {});
  send.type = "submit";
  form.append(send);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    again(item, Object.fromEntries(fields.map((name) => [name, form.elements[name].value])));
  });
  return form;
}

// What hardly can be true is settled with one tap: as it was likely meant, or as it is.
function answers(item) {
  // Somebody else put it right meanwhile: a person decides, not whoever came last.
  if (item.changed) return [button(words.mine, "main", () => again(item, { overrule: true }))];
  if (!item.likely) return [];
  const meant = item.likely.map(({ says, changes }) => button(says, "main", () => again(item, said(changes))));
  return [...meant, button(words.insist, "", () => again(item, { insist: true }))];
}

const said = (changes) => (changes.sum ? { ...changes, sum: changes.sum.split(" + ") } : changes);

async function again(item, changes) {
  await settle(item, changes);
  await sendAndSay();
}

function button(text, look, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = look;
  made.textContent = text;
  made.addEventListener("click", act);
  return made;
}

async function show() {
  const kept = await all();
  const waiting = kept.filter((item) => !item.refused), refused = kept.filter((item) => item.refused);
  const others = waiting.filter((item) => whose(item, Number(person), notebook) !== "mine");
  document.querySelector("[data-waiting]").replaceChildren(...waiting.map(line));
  document.querySelector("[data-refused]").replaceChildren(...refused.map(line));
  hide("empty", kept.length > 0);
  hide("waiting", waiting.length === others.length);
  hide("others", others.length === 0);
  hide("refused", refused.length === 0);
}

async function sendAndSay() {
  const state = await send();
  hide("signed-out", state !== "signed out");
  await show();
}

document.querySelector("[data-send-now]").addEventListener("click", sendAndSay);
onChange(show);
show().then(sendAndSay);
