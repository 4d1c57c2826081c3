// Keeps the page of what comes in up to date: texts come ready from the server, and are put in place.
const place = () => document.querySelector("[data-incoming]");
const happened = document.querySelector("[data-told]");
const MOST_TOLD = 20;

function put(one) {
  const card = document.querySelector(`[data-channel="${one.channel}"]`);
  if (!card) return false;
  for (const cell of card.querySelectorAll("[data-cell]")) {
    const text = one[cell.dataset.cell];
    if (text !== undefined && cell.textContent !== text) cell.textContent = text;
  }
  return true;
}

// A channel that was never seen brings a card with a form: the page is asked for anew, unless
// somebody is just about to fill in a form on it.
let asking = false;
async function askAnew() {
  const old = place();
  if (asking || old.contains(document.activeElement)) return;
  asking = true;
  try {
    const answer = await fetch(location.href);
    if (!answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.querySelector("[data-incoming]");
    if (fresh && !old.contains(document.activeElement)) old.replaceWith(fresh);
  } finally {
    asking = false;
  }
}

const source = new EventSource(place().dataset.incoming);
source.addEventListener("channels", (event) => {
  if (JSON.parse(event.data).filter((one) => !put(one)).length) askAnew();
});
source.addEventListener("told", (event) => {
  for (const one of JSON.parse(event.data).reverse()) {
    const item = document.createElement("li");
    item.textContent = `${one.at} ${one.who}: ${one.what}`;
    happened.prepend(item);
  }
  while (happened.children.length > MOST_TOLD) happened.lastElementChild.remove();
});
addEventListener("pagehide", () => source.close());
