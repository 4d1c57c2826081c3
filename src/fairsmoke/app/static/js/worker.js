// The service worker: opens the app without a connection, and sends what waits when it can.
import { send } from "./send.js";

const MOST_PAGES = 40, ANSWER_WITHIN_MS = 4_000;
// Pages kept for use without a connection, all of one person: of whoever was signed in last.
const PAGES = "pages", WHOSE = "x-page-of", OWNER = "/whose-pages";

export function serve(version, shell) {
  const SHELL = `shell-${version}`;

  self.addEventListener("install", (event) => {
    event.waitUntil(caches.open(SHELL).then((cache) => cache.addAll(shell)).then(() => self.skipWaiting()));
  });

  self.addEventListener("activate", (event) => {
    // Kept pages name files of their own version: older shells stay as long as such pages may.
    event.waitUntil(keepNewest().then(() => self.clients.claim()));
  });

  self.addEventListener("sync", (event) => {
    if (event.tag === "send") event.waitUntil(send());
  });

  self.addEventListener("fetch", (event) => {
    const { request } = event, url = new URL(request.url);
    if (url.origin !== location.origin) return;
    if (request.method === "POST" && /^\/(sign-out|sign-in|enter\/)/.test(url.pathname)) {
      // Whoever signs out or in leaves, and finds, no page of before; what waits to be sent stays.
      event.respondWith(caches.delete(PAGES).then(() => fetch(request)));
      return;
    }
    if (request.method !== "GET") return;
    if (url.pathname.startsWith("/static/")) event.respondWith(keptFirst(request));
    else if (request.mode === "navigate" && !url.pathname.startsWith("/enter/")) event.respondWith(page(event, request));
  });

  async function keepNewest() {
    const names = (await caches.keys()).filter((name) => name.startsWith("shell-") && name !== SHELL);
    await Promise.all(names.slice(0, -1).map((name) => caches.delete(name)));
  }

  async function keptFirst(request) {
    return (await caches.match(request)) ?? fetch(request);
  }

  async function page(event, request) {
    try {
      const answer = await fetch(request, { signal: AbortSignal.timeout(ANSWER_WITHIN_MS) });
      if (answer.status === 401 || (answer.ok && new URL(request.url).pathname === "/sign-in")) {
        // Their access has ended, or their session: what they saw goes with it.
        event.waitUntil(caches.delete(PAGES));
      } else if (isPage(answer)) {
        const copy = answer.clone();
        event.waitUntil(keepPage(request, copy));
      }
      return answer;
    } catch {
      const pages = await caches.open(PAGES), kept = await pages.match(request, { ignoreSearch: true });
      return kept ? old(kept) : (await caches.match("/waiting")) ?? Response.error();
    }
  }

  // Kept only when it is the page itself, of somebody: a way to the sign-in would hide it, and
  // reports, records and pictures that are downloaded are nobody's to find on a phone.
  function isPage(answer) {
    const kind = answer.headers.get("content-type") ?? "";
    return answer.ok && !answer.redirected && answer.type === "basic" && kind.startsWith("text/html")
      && answer.headers.has(WHOSE) && !answer.headers.has("content-disposition");
  }

  // An old page must not look like a new one: it carries when it was made.
  async function old(kept) {
    const html = await kept.text(), made = new Date(kept.headers.get("date"));
    return new Response(html.replace("<html ", `<html data-kept="${made.toISOString()}" `), { headers: kept.headers });
  }

  async function keepPage(request, copy) {
    // Whole first: a page that breaks off on its way must not take the place of the one there is.
    const whole = await copy.blob().catch(() => null);
    if (!whole) return;
    const whose = copy.headers.get(WHOSE);
    let pages = await caches.open(PAGES);
    const owner = await pages.match(OWNER);
    if (owner && (await owner.text()) !== whose) {
      await caches.delete(PAGES);
      pages = await caches.open(PAGES);
    }
    await pages.put(OWNER, new Response(whose));
    await pages.delete(request);
    await pages.put(request, new Response(whole, { headers: copy.headers }));
    const kept = (await pages.keys()).filter((one) => new URL(one.url).pathname !== OWNER);
    await Promise.all(kept.slice(0, Math.max(0, kept.length - MOST_PAGES)).map((one) => pages.delete(one)));
  }
}
