// Sends what is kept, one after the other, each until the app has answered.
//
// Returns "sent" (nothing is left), "no answer" (no connection, or the app is busy: later),
// "signed out" (whoever recorded it must sign in), "waits" (only somebody else's are left).
import { all, refuse, remove, whose } from "./queue.js";

const ANSWER_WITHIN_MS = 20_000;
let running = null;

export function send() {
  running ??= alone().finally(() => { running = null; });
  return running;
}

// Two windows and the worker share one queue; only one of them sends. Without TLS there are no
// locks: then an entry may be sent twice, and the app records it once.
function alone() {
  if (!globalThis.navigator?.locks) return sendAll();
  return navigator.locks.request("fairsmoke-send", sendAll);
}

async function sendAll() {
  const kept = (await all()).filter((item) => !item.refused);
  if (!kept.length) return "sent";
  let me;
  try {
    const answer = await ask("/api/me");
    if (answer.status === 401) return "signed out";
    if (!answer.ok) return "no answer";
    me = await answer.json();
  } catch {
    return "no answer";
  }
  // What one person recorded is not sent in another's name, nor to another notebook; it holds
  // nobody else up.
  const mine = kept.filter((item) => whose(item, me.id, me.notebook) === "mine");
  for (const item of mine) {
    let answer;
    try {
      answer = await post(item, me.csrf);
    } catch {
      return "no answer";
    }
    if (answer.ok) {
      await remove(item.order);
    } else if (answer.status === 401) {
      return "signed out";
    } else if (answer.status >= 500 || answer.status === 408 || answer.status === 429) {
      return "no answer";
    } else {
      const said = await answer.json().catch(() => null);
      if (said?.error?.code === "form-mark") return "no answer";
      const places = (said?.error?.problems ?? []).map((one) => one.place ? `${one.place}: ${one.message}` : one.message);
      const doubted = said?.error?.code === "doubted" ? { likely: said.error.likely } : { changed: said?.error?.code === "changed" };
      await refuse(item, [said?.error?.message ?? String(answer.status), ...places].join(" · "), doubted);
    }
  }
  return mine.length < kept.length ? "waits" : "sent";
}

function post(item, csrf) {
  const headers = { "X-CSRF-Token": csrf };
  if (item.kind !== "photo") {
    headers["Content-Type"] = "application/json";
    return ask("/api/entries", { method: "POST", headers, body: JSON.stringify(content(item)) });
  }
  const form = new FormData();
  for (const [name, value] of Object.entries(item.body)) if (name !== "kind") form.append(name, value);
  form.append("photo", item.blob, "photo");
  return ask("/api/photos", { method: "POST", headers, body: form });
}

// When it was written: somebody else may have put the same right since.
function content(item) {
  return item.kind === "mend" ? { ...item.body, made: item.made } : item.body;
}

function ask(path, options = {}) {
  return fetch(path, {
    credentials: "same-origin",
    cache: "no-store",
    signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
    ...options,
  });
}
