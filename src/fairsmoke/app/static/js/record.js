// What a page calls to record something: kept on the phone first, then sent as soon as possible.
import { keep } from "./queue.js";
import { send } from "./send.js";

/** Keep an entry and send it; returns its id as soon as it is safe on the phone. */
export async function record(body, blob = null) {
  const id = await keep(body, blob);
  // Where the browser offers it, what waits is sent even after the page was closed.
  navigator.serviceWorker?.ready.then((worker) => worker.sync?.register("send")).catch(() => {});
  send();
  return id;
}
