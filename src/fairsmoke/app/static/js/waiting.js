// The page of what waits on this phone.
import { all, onChange, remove, settle } from "./queue.js";
import { send } from "./send.js";

const words = document.querySelector("[data-words]").dataset;
const hide = (mark, hidden) => document.querySelectorAll(`[data-when-${mark}]`).forEach((one) => { one.hidden = hidden; });
const clock = new Intl.DateTimeFormat(document.documentElement.lang, { timeStyle: "short", dateStyle: "medium" });

function line(item) {
  const row = document.createElement("li");
  const what = [item.body.event, item.body.value ?? item.body.reading].filter(Boolean).join(" ");
  row.textContent = `${words[item.kind] ?? item.kind} ${what}, ${clock.format(new Date(item.made))}`;
  if (item.refused) {
    const why = document.createElement("p");
    why.className = "wrong";
    why.textContent = item.refused;
    row.append(why, ...answers(item), button(words.remove, "danger", () => remove(item.order)));
  }
  return row;
}

// What hardly can be true is settled with one tap: as it was likely meant, or as it is.
function answers(item) {
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
  document.querySelector("[data-waiting]").replaceChildren(...waiting.map(line));
  document.querySelector("[data-refused]").replaceChildren(...refused.map(line));
  hide("empty", waiting.length > 0);
  hide("waiting", waiting.length === 0);
  hide("refused", refused.length === 0);
}

async function sendAndSay() {
  const state = await send();
  hide("signed-out", state !== "signed out" && state !== "waits");
  await show();
}

document.querySelector("[data-send-now]").addEventListener("click", sendAndSay);
onChange(show);
show().then(sendAndSay);
