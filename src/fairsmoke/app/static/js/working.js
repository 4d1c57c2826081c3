// Looks again while something is worked out, and shows the whole page when it is there.
const LOOK_EVERY_MS = 1500;

async function look() {
  const here = document.querySelector("[data-working]");
  if (!here) return;
  try {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
    // Busy or full now (503, 429), or on its way back (502): the work goes on, and so does this page.
    if ([429, 502, 503].includes(answer.status)) throw new Error("later");
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const now = page.querySelector("[data-working]");
    if (!answer.ok || !now) {
      location.reload();
      return;
    }
    const [live, next] = [here, now].map((one) => one.querySelector("[aria-live]"));
    if (live.innerHTML !== next.innerHTML) live.replaceChildren(...next.childNodes);
  } catch {
    // No connection or no answer now: look again later.
  }
  setTimeout(look, LOOK_EVERY_MS);
}

setTimeout(look, LOOK_EVERY_MS);
