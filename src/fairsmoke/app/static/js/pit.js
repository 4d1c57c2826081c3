// What a cook's pages do with scripts: forms go through the phone's queue, times tick, parts are live.
import { wireForms } from "./pit_forms.js";
import { wireChanges } from "./pit_bar.js";
import { tick } from "./pit_clock.js";

const root = document.querySelector("[data-cook]");
if (root) {
  wireForms(root);
  wireChanges(root);
  tick(document);
  setInterval(() => tick(document), 20_000);
  if (root.querySelector("[data-weigh]")) import("./pit_weigh.js").then((one) => one.wire(root));
  if (root.querySelector("[data-curve]")) import("./pit_curve.js").then((one) => one.wire(root));
  if (root.dataset.stream && !("ended" in root.dataset)) import("./pit_live.js").then((one) => one.wire(root));
  keepPages((root.dataset.keep ?? "").split(" ").filter(Boolean));
}

// The pages that are needed next at the pit open without a connection, though nobody was there yet.
async function keepPages(paths) {
  if (!globalThis.caches || !navigator.serviceWorker?.controller) return;
  const kept = await caches.open("pages");
  for (const path of paths) {
    const answer = await fetch(path, { credentials: "same-origin" }).catch(() => null);
    const whole = answer?.ok && !answer.redirected ? await answer.blob().catch(() => null) : null;
    if (whole) await kept.put(path, new Response(whole, { headers: answer.headers }));
  }
}
