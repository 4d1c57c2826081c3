"""Every command is tested on a screen of the same width, whatever terminal the tests run in."""

import pytest


@pytest.fixture(autouse=True)
def _wide_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setenv("TERM", "xterm")
