"""Takes pictures of each place of the app, phone and desktop, light and dark: make screenshots.

On the invented trial, whose last night is made to run now. The pictures go to docs/app, with few
colours so that they stay small. ``--whole`` takes pages to their end, to look at them oneself.
"""

import argparse
import io
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from benchmarks.app_pages import TONIGHT, page_paths
from PIL import Image
from playwright.sync_api import Browser, Page, expect, sync_playwright

from fairsmoke.answers.demonstration_tonight import make_tonight
from fairsmoke.app.factory import create_app
from fairsmoke.app.settings import Settings
from fairsmoke.notebook import Notebook

ROOT = Path(__file__).parents[1]
SIZES = {"phone": {"width": 390, "height": 844}, "desktop": {"width": 1280, "height": 800}}
THEMES = ("light", "dark")
COLOURS = 64
LONGEST = 6000
"""Pixels: what ``--whole`` takes at most of a page."""


@dataclass(frozen=True)
class Running:
    """The app, served over TLS: its address, the link that signs in, the page without TLS."""

    address: str
    link: str
    steps: str


@contextmanager
def serving(notebook: Path, authority: Path) -> Iterator[Running]:
    """Serve a notebook as a person does."""
    command = [sys.executable, "-m", "fairsmoke", "serve", str(notebook), "--port", "0"]
    command += ["--listen", "0.0.0.0", "--authority", str(authority)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    said = ""
    try:
        for line in process.stdout:
            said += line
            if "Ctrl-C" in line:
                break
        link = re.search(r"(https://[^/\s]+)/enter/\S+", said)
        steps = re.search(r"http://[^/\s]+:\d+", said)
        if link is None or steps is None:
            raise RuntimeError(f"the app did not start:\n{said}")
        yield Running(link[1], link[0], steps[0])
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(20)


def paths_of(notebook: Path) -> dict[str, str]:
    """Return the path of each page."""
    with Notebook.open(notebook) as book:
        return page_paths(create_app(Settings(notebook), book), TONIGHT)


def sign_in(browser: Browser, running: Running) -> dict[str, object]:
    """Return the cookies of a browser that is signed in."""
    # The certificate's trust has tests of its own.
    context = browser.new_context(ignore_https_errors=True)
    page = context.new_page()
    page.goto(running.link)
    page.get_by_role("button").click()
    page.wait_for_url(running.address + "/")
    state = dict(context.storage_state())
    context.close()
    return state


def ask_when(browser: Browser, running: Running, state: dict[str, object]) -> None:
    """Have the day of the running cook worked out, as a person asks for it."""
    context = browser.new_context(
        ignore_https_errors=True,
        storage_state=state,  # type: ignore[arg-type]
    )
    page = context.new_page()
    page.goto(running.address + f"/trials/{TONIGHT['trial']}/plan/when")
    serve = datetime.now(UTC) + timedelta(days=5)
    page.locator("#serve").fill(serve.strftime("%Y-%m-%dT13:00"))
    page.get_by_role("button", name="Work the day out").click()
    expect(page.locator("#day")).to_be_visible(timeout=240_000)
    context.close()


def ask_worth(browser: Browser, running: Running, state: dict[str, object]) -> str:
    """Ask which method is worth trying as the form has it; return where the answer will be."""
    context = browser.new_context(
        ignore_https_errors=True,
        storage_state=state,  # type: ignore[arg-type]
        locale="en-GB",
    )
    page = context.new_page()
    page.goto(running.address + "/worth-trying")
    page.get_by_label("Price of a piece").fill("60")
    page.get_by_label("Price of a cook").fill("25")
    page.get_by_role("button", name="Cook them in the simulator").click()
    page.wait_for_url("**/worth-trying/*")
    address = page.url
    context.close()
    return address


def picture(page: Page, *, whole: bool) -> bytes:
    """Return what the page shows, in few colours."""
    page.evaluate(
        "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
    )
    size = page.viewport_size
    assert size is not None
    high = page.evaluate("document.documentElement.scrollHeight") if whole else size["height"]
    if whole:
        page.set_viewport_size({"width": size["width"], "height": min(high, LONGEST)})
    taken = page.screenshot(animations="disabled", caret="hide")
    page.set_viewport_size(size)
    out = io.BytesIO()
    few = Image.open(io.BytesIO(taken)).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    few.save(out, "png", optimize=True)
    return out.getvalue()


def gallery(titles: dict[str, str]) -> str:
    """Return the page that shows every picture."""
    lines = [
        "# How each place looks",
        "",
        "Made by `make screenshots` on the invented trial, whose last night is running now:",
        "nothing here was cooked, and no such hall, cooks or tasters exist.",
    ]
    for name, title in titles.items():
        lines += ["", f"## {title}", ""]
        lines += [
            " ".join(
                f"![{title}, {size}, {theme}]({name}-{size}-{theme}.png)"
                for size in SIZES
                for theme in THEMES
            )
        ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Take every picture."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--out", type=Path, default=ROOT / "docs" / "app")
    asked.add_argument("--whole", action="store_true", help="pages to their end")
    asked.add_argument("--only", nargs="*", help="names of places")
    told = asked.parse_args()
    chromium = shutil.which("chromium")
    if chromium is None:
        sys.exit("there is no chromium; run scripts/system-tools.sh")
    told.out.mkdir(parents=True, exist_ok=True)
    titles: dict[str, str] = {}
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        notebook = Path(folder) / "village-hall.fairsmoke"
        make_tonight(notebook, datetime.now(UTC))
        paths = paths_of(notebook)
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        with serving(notebook, Path(folder) / "own") as running:
            state = sign_in(browser, running)
            ask_when(browser, running, state)
            todo = {name: running.address + path for name, path in paths.items()}
            todo |= {"trust": running.steps + "/"}
            if not told.only or "worth_answer" in told.only:
                todo |= {"worth_answer": ask_worth(browser, running, state)}
            for size, viewport in SIZES.items():
                for theme in THEMES:
                    for name, address in todo.items():
                        if told.only and name not in told.only:
                            continue
                        context = browser.new_context(
                            viewport=viewport,  # type: ignore[arg-type]
                            color_scheme=theme,  # type: ignore[arg-type]
                            ignore_https_errors=True,
                            locale="en-GB",
                            storage_state=None if name == "sign_in" else state,  # type: ignore[arg-type]
                            service_workers="block",
                        )
                        page = context.new_page()
                        page.goto(address)
                        # What is being worked out says so, and is looked at when it is there.
                        expect(page.locator("[data-working]")).to_have_count(0, timeout=240_000)
                        titles[name] = page.title().removesuffix(" · Fairsmoke")
                        if page.locator("[data-front]").count():
                            expect(page.locator("[data-drawing] canvas")).to_be_visible()
                        content = picture(page, whole=told.whole)
                        (told.out / f"{name}-{size}-{theme}.png").write_bytes(content)
                        context.close()
        browser.close()
    if not told.whole and not told.only:
        (told.out / "README.md").write_text(gallery(titles), encoding="utf-8")
    total = sum(one.stat().st_size for one in told.out.glob("*.png"))
    print(f"{len(list(told.out.glob('*.png')))} pictures, {total / 1e6:.1f} MB, in {told.out}")


if __name__ == "__main__":
    main()
