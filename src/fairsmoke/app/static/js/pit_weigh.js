// The weighing form: the sum in words, and whether it can be true, without a connection too.
import { all } from "./queue.js";
import { entryOf } from "./pit_forms.js";
import { doubtIn, kilograms } from "./plausible.js";

function written(kg, mass) {
  if (mass === "kg") return `${kg.toLocaleString(document.documentElement.lang, { minimumFractionDigits: 3, maximumFractionDigits: 3 })} kg`;
  const ounces = kg / 0.028349523125;
  return `${Math.floor(ounces / 16)} lb ${(ounces % 16).toFixed(1)} oz`;
}

export function wire(root) {
  const form = root.querySelector("[data-weigh]"), words = root.querySelector("[data-weigh-words]").dataset;
  const data = JSON.parse(root.querySelector("[data-weighed]").textContent);
  const said = form.querySelector("[data-sum]"), box = form.querySelector("[data-doubt]");
  // What the person chose for an odd entry: an object of changed fields, or that it stays as it is.
  let chosen = null;

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
    if (chosen) {
      Object.assign(entry, chosen);
      chosen = null;
      note(entry);
      return true;
    }
    // What waits on this phone was weighed too, unless it was taken back.
    const kept = (await all()).filter((item) => !item.refused && item.body.trial === entry.trial);
    const undone = new Set(kept.filter((item) => item.kind === "undo").map((item) => item.body.of));
    const waiting = kept.filter((item) => item.kind === "weighing" && !undone.has(item.id)).map((item) => seen(item.body));
    const recent = [...data.weighings, ...waiting, ...sent.map(seen)];
    const doubt = doubtIn(data, recent, seen(entry));
    if (!doubt) { note(entry); return true; }
    ask(doubt);
    return false;
  };

  function ask(doubt) {
    const text = document.createElement("p"), fill = { "{now}": doubt.now, "{before}": doubt.before };
    text.textContent = data.words[doubt.kind].replace(/\{now\}|\{before\}/g, (name) => written(fill[name], words.mass));
    const answers = doubt.meant.map((one) => [one.piece ? data.pieces[one.piece].name : one.sum ? one.sum.join(" + ") : one.reading, one, "main"]);
    const buttons = [...answers, [words.sure, { insist: true }, ""]].map(([says, changes, look]) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = look;
      button.textContent = says;
      button.addEventListener("click", () => { chosen = changes; form.requestSubmit(); });
      return button;
    });
    box.replaceChildren(text, ...buttons);
    box.hidden = false;
  }

  // What was recorded since the page was opened, sent or not.
  const sent = [];
  function note(entry) { sent.push(entry); }
  function seen(entry) {
    return { piece: entry.piece ?? "", sum: entry.sum, kg: kilograms(data.rules, entry.reading), at: entry.at, reading: entry.reading };
  }
  root.addEventListener("undone", ({ detail }) => {
    const at = sent.indexOf(detail);
    if (at >= 0) sent.splice(at, 1);
  });
  showSum();
}
