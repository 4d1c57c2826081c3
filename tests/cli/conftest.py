"""Every command is tested on a screen of the same width, whatever terminal the tests run in."""

import pytest

from fairsmoke.cli import screen

WIDTH = 200


@pytest.fixture(autouse=True)
def _wide_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    # Rich looks at the terminal once, when a console is made.
    for console in (screen.out, screen.err):
        monkeypatch.setattr(console, "_width", WIDTH)
