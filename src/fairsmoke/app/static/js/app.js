// What every page does: installs the worker, shows what waits, sends it when the app answers.
import { all, onChange } from "./queue.js";
import { send } from "./send.js";

const badge = document.querySelector("[data-queue]");
const offline = document.querySelector("[data-offline]");

async function showWaiting() {
  if (!badge) return;
  const kept = await all();
  badge.hidden = kept.length === 0;
  badge.querySelector("[data-queue-count]").textContent = String(kept.length);
}

async function sendNow() {
  const state = await send();
  if (offline) offline.hidden = state !== "no answer" && !kept;
  return state;
}

// The worker gave a page that it had kept, because the app did not answer.
const { kept } = document.documentElement.dataset;
if (kept && offline) {
  offline.hidden = false;
  const since = offline.querySelector("[data-kept-since]");
  since.hidden = false;
  since.querySelector("time").textContent = new Date(kept).toLocaleTimeString(
    document.documentElement.lang, { hour: "numeric", minute: "2-digit", weekday: "short" });
}

// On a phone the places stand in one line each, which may be longer than the screen.
document.querySelectorAll(".places [aria-current], .steps [aria-current]").forEach((one) => {
  one.scrollIntoView({ inline: "center", block: "nearest" });
});

onChange(showWaiting);
showWaiting();

// Only over TLS or on this machine itself; elsewhere browsers have no worker, and the queue works
// as long as a page of ours is open.
if ("serviceWorker" in navigator) {
  navigator.serviceWorker.register("/worker.js", { type: "module" }).catch((error) => {
    console.warn("The app will not open without a connection:", error);
  });
}

window.addEventListener("online", sendNow);
window.addEventListener("offline", () => { if (offline) offline.hidden = false; });
document.addEventListener("visibilitychange", () => { if (!document.hidden) sendNow(); });
setInterval(async () => { if ((await all()).length) sendNow(); }, 10_000);
sendNow();

if (document.querySelector("[data-waiting]")) import("./waiting.js");
