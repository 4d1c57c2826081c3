// What is live: parts of the page as the app sends them, alerts by sound, and saying when no news come.
import { clockOf, tick } from "./pit_clock.js";

const LOST_AFTER_MS = 45_000, AGAIN_MS = 60_000;

export function wire(root) {
  const words = root.querySelector("[data-pit-words]").dataset;
  const state = root.querySelector("[data-stream-state]"), lost = root.querySelector("[data-stream-lost]");
  const sound = soundOf(root, words);
  const seen = new Set(JSON.parse(sessionStorage.getItem("seen-alerts") ?? "[]"));
  let heard = Date.now(), stream = null, rung = 0;

  function connect() {
    stream = new EventSource(root.dataset.stream);
    stream.addEventListener("parts", (event) => { news(); put(JSON.parse(event.data)); });
    stream.addEventListener("curve", (event) => { news(); root.dispatchEvent(new CustomEvent("curve", { detail: JSON.parse(event.data) })); });
    stream.addEventListener("still", news);
    stream.addEventListener("bye", () => { stream.close(); globalThis.caches?.delete("pages").finally(() => location.reload()) ?? location.reload(); });
    stream.onerror = () => {
      // A refused stream is not tried again by the browser itself.
      if (stream.readyState === EventSource.CLOSED) setTimeout(connect, 5_000);
    };
  }

  function news() {
    heard = Date.now();
    lost.hidden = true;
    state.textContent = `${words.live} ${clockOf(heard, root.dataset.zone)}`;
  }

  function put(parts) {
    for (const [name, html] of Object.entries(parts)) {
      const part = root.querySelector(`[data-part="${CSS.escape(name)}"]`);
      if (!part) continue;
      const active = part.contains(document.activeElement) ? mark(document.activeElement) : null;
      part.innerHTML = html;
      part.querySelectorAll("[data-change]").forEach((one) => { one.hidden = false; });
      tick(part);
      if (active) part.querySelector(active)?.focus();
      if (name === "alerts") alerts();
    }
  }

  // Where the focus was, so that whoever goes by keyboard is not thrown out when a part is renewed.
  function mark(one) {
    if (one.name && one.value) return `[name="${CSS.escape(one.name)}"][value="${CSS.escape(one.value)}"]`;
    return one.dataset.event ? `[data-event="${CSS.escape(one.dataset.event)}"]` : null;
  }

  function alerts() {
    const now = [...root.querySelectorAll("[data-alert]")];
    const keys = new Set(now.map((one) => one.dataset.alert));
    // What is over may ring again when it comes back.
    for (const key of seen) if (!keys.has(key)) seen.delete(key);
    for (const one of now) {
      const known = seen.has(one.dataset.alert);
      one.classList.toggle("seen", known);
      if (known || one.querySelector("[data-seen]")) continue;
      const button = document.createElement("button");
      button.type = "button";
      button.dataset.seen = "";
      button.textContent = words.silent;
      button.addEventListener("click", () => { seen.add(one.dataset.alert); keepSeen(); button.remove(); alerts(); });
      one.append(button);
    }
    keepSeen();
    ring();
  }

  function keepSeen() { sessionStorage.setItem("seen-alerts", JSON.stringify([...seen])); }

  let rang = "";
  function ring() {
    const open = [...root.querySelectorAll("[data-alert]")].filter((one) => !seen.has(one.dataset.alert));
    const keys = open.map((one) => one.dataset.alert).sort().join();
    if (!lost.hidden) return sound.ring(false);
    if (!keys) { rang = ""; return; }
    // At once when something is new, else again each minute until somebody has seen it.
    if (keys === rang && Date.now() - rung < AGAIN_MS) return;
    rang = keys;
    rung = Date.now();
    sound.ring(open.some((one) => one.classList.contains("pressing")));
  }

  setInterval(() => {
    if (Date.now() - heard > LOST_AFTER_MS && lost.hidden) { lost.hidden = false; ring(); }
    else if (lost.hidden) ring();
  }, 5_000);
  connect();
  alerts();
  addEventListener("pagehide", () => stream?.close());
  addEventListener("pageshow", (event) => { if (event.persisted) connect(); });
}

// Browsers give sound only after a tap; until then the button says that it is off.
function soundOf(root, words) {
  const button = root.querySelector("[data-sound]"), said = button.querySelector("[data-sound-state]");
  const Context = globalThis.AudioContext ?? globalThis.webkitAudioContext;
  let context = null, awake = null;
  if (!Context) return { ring() {} };
  button.hidden = false;
  button.addEventListener("click", async () => {
    if (context) {
      await context.close();
      context = null;
      awake?.release();
      awake = null;
    } else {
      context = new Context();
      await context.resume();
      // A phone that sleeps rings no more. Not every browser can be asked to stay awake.
      awake = await navigator.wakeLock?.request("screen").catch(() => null);
      beep(0, 880);
    }
    said.textContent = context ? words.on : words.off;
    button.setAttribute("aria-pressed", String(Boolean(context)));
  });

  function beep(after, pitch) {
    const start = context.currentTime + after, tone = context.createOscillator(), loud = context.createGain();
    tone.type = "square";
    tone.frequency.value = pitch;
    loud.gain.setValueAtTime(0.0001, start);
    loud.gain.exponentialRampToValueAtTime(0.5, start + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.0001, start + 0.3);
    tone.connect(loud).connect(context.destination);
    tone.start(start);
    tone.stop(start + 0.32);
    root.dataset.beeps = String(Number(root.dataset.beeps ?? 0) + 1);
  }

  return {
    ring(pressing) {
      if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.(pressing ? [300, 100, 300, 100, 300] : [300]);
      if (!context) return;
      const pitches = pressing ? [988, 740, 988, 740, 988] : [880, 880];
      pitches.forEach((pitch, number) => beep(0.4 * number, pitch));
    },
  };
}
