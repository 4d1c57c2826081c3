// A drawing of the package's own chart library in place of the picture that the page came with:
// as wide as the page has room and in its colours, drawn anew when either changes.
function library(figure) {
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

// `address` is asked with what else the app must know; `shown` is told of each new drawing.
export async function keepDrawn(figure, address, more = () => ({}), shown = () => {}) {
  const drawing = figure.querySelector("[data-drawing]");
  let drawn = null;

  async function draw(embed) {
    const width = Math.max(240, Math.min(1600, Math.floor(figure.clientWidth)));
    const answer = await fetch(`${address}?${new URLSearchParams({ ...more(), width, dark: isDark() })}`);
    if (!answer.ok) return;
    const spec = await answer.json();
    const place = document.createElement("div");
    place.setAttribute("role", "img");
    place.setAttribute("aria-label", drawing.querySelector("[alt]")?.alt ?? drawing.firstElementChild.getAttribute("aria-label"));
    // Interpreted, not compiled: the page allows no code made from text.
    const made = await embed(place, spec, {
      ast: true, actions: false, defaultStyle: false, tooltip: false, renderer: "canvas",
    });
    drawn?.finalize();
    drawn = made;
    drawing.replaceChildren(place);
    shown(made.view, spec);
  }

  const embed = await library(figure);
  await draw(embed);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => draw(embed));
  let later = 0;
  addEventListener("resize", () => { clearTimeout(later); later = setTimeout(() => draw(embed), 300); });
}
