// What was recorded and not yet answered, kept on the phone in the order in which it was recorded.
//
// An item: {order, id, kind, person, notebook, made, body, blob?, refused?, likely?}. `body` is what /api/entries takes
// (kind "photo": the fields of /api/photos, with the picture in `blob`). It is removed only when
// the app has answered that it is recorded, or by hand.
const NAME = "fairsmoke", STORE = "entries";
const channel = new BroadcastChannel("fairsmoke-queue");
const listeners = new Set();
channel.onmessage = () => listeners.forEach((listener) => listener());

function changed() {
  channel.postMessage("changed");
  listeners.forEach((listener) => listener());
}

export function onChange(listener) { listeners.add(listener); }

function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore(STORE, { keyPath: "order", autoIncrement: true });
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

async function within(mode, work) {
  const database = await opened();
  try {
    return await new Promise((resolve, reject) => {
      // Strict: on the phone's storage, not only on its way there, before we say that it is kept.
      const transaction = database.transaction(STORE, mode, { durability: "strict" });
      const request = work(transaction.objectStore(STORE));
      transaction.oncomplete = () => resolve(request.result);
      transaction.onabort = transaction.onerror = () => reject(transaction.error);
    });
  } finally {
    database.close();
  }
}

/** Return a new id: random, version 4. `crypto.randomUUID` is not there without TLS. */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** Keep an entry; it is on the phone when this returns. `body` needs `kind` and `trial`. */
export async function keep(body, blob = null) {
  const person = Number(document.body.dataset.person);
  if (!person) throw new Error("Nobody is signed in.");
  const id = body.id ?? newId();
  const { notebook } = document.body.dataset;
  const item = { id, kind: body.kind, person, notebook, made: new Date().toISOString(), body: { ...body, id } };
  if (blob) item.blob = blob;
  await within("readwrite", (store) => store.add(item));
  changed();
  return id;
}

/** Tell whose an item is: "mine", "another's" of the same notebook, or of "another notebook". */
export function whose(item, person, notebook) {
  if (item.notebook && item.notebook !== notebook) return "another notebook";
  return item.person === person ? "mine" : "another's";
}

/** Return everything that is kept, in order. */
export function all() { return within("readonly", (store) => store.getAll()); }

export async function remove(order) {
  await within("readwrite", (store) => store.delete(order));
  changed();
}

/** Set an item aside that the app will not take as it is; it stays until settled by hand.
 *
 * `doubted` is {likely} when it hardly can be true: what may have been meant, as the app says it.
 */
export async function refuse(item, message, doubted = {}) {
  await within("readwrite", (store) => store.put({ ...item, ...doubted, refused: message }));
  changed();
}

/** Let an item that was set aside be sent again, with some fields changed. */
export async function settle(item, changes) {
  const { refused, likely, changed: _, ...kept } = item;
  await within("readwrite", (store) => store.put({ ...kept, body: { ...kept.body, ...changes } }));
  changed();
}
