// Draws the front of methods in the page's own width and colours, in place of the picture.
const figure = document.querySelector("[data-front]");
const drawing = figure?.querySelector("[data-drawing]");
let drawn = null;

function library() {
  return new Promise((done, failed) => {
    const script = document.createElement("script");
    script.src = figure.dataset.script;
    script.onload = () => done(window.fairsmokeCharts.embed);
    script.onerror = failed;
    document.head.append(script);
  });
}

function isDark() {
  const theme = document.documentElement.dataset.theme;
  return theme === "dark" || (theme !== "light" && matchMedia("(prefers-color-scheme: dark)").matches);
}

async function draw(embed) {
  const width = Math.max(240, Math.min(1600, Math.floor(figure.clientWidth)));
  const answer = await fetch(`${figure.dataset.front}?${new URLSearchParams({ width, dark: isDark() })}`);
  if (!answer.ok) return;
  const place = document.createElement("div");
  place.setAttribute("role", "img");
  place.setAttribute("aria-label", drawing.querySelector("[alt]")?.alt ?? drawing.firstElementChild.getAttribute("aria-label"));
  // Interpreted, not compiled: the page allows no code made from text.
  const made = await embed(place, await answer.json(), {
    ast: true, actions: false, defaultStyle: false, tooltip: false, renderer: "canvas",
  });
  drawn?.finalize();
  drawn = made;
  drawing.replaceChildren(place);
}

if (figure) {
  const embed = await library();
  await draw(embed);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => draw(embed));
  let later = 0;
  addEventListener("resize", () => { clearTimeout(later); later = setTimeout(() => draw(embed), 300); });
}
