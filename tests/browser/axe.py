"""What axe-core finds wrong on a page, best practices included."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import axe_playwright_python
from playwright.sync_api import Page

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")


OF_COLOURS = ("color-contrast", "link-in-text-block")
"""The rules that another theme can break."""


def violations(page: Page, rules: Sequence[str] | None = None) -> list[Any]:
    """Return the rule and the elements of each violation, of all rules or of some."""
    # Evaluated by the browser's own tools, which the page's policy does not bind.
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(AXE)
    options = {"runOnly": list(rules)} if rules else {}
    found = page.evaluate("(options) => axe.run(document, options)", options)
    return [(one["id"], [node["target"] for node in one["nodes"]]) for one in found["violations"]]
