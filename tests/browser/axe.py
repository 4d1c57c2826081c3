"""What axe-core finds wrong on a page, best practices included."""

from pathlib import Path
from typing import Any

import axe_playwright_python
from playwright.sync_api import Page

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")


def violations(page: Page) -> list[Any]:
    """Return the rule and the elements of each violation."""
    # Evaluated by the browser's own tools, which the page's policy does not bind.
    page.evaluate(AXE)
    found = page.evaluate("() => axe.run(document)")
    return [(one["id"], [node["target"] for node in one["nodes"]]) for one in found["violations"]]
