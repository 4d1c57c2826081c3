"""A long run says how far it is, on the error stream, after its first second and not before."""

import io
import time

import pytest
from rich.console import Console

from fairsmoke.cli import progress, screen
from fairsmoke.cli.progress import far_along
from fairsmoke.messages.message import N_

SOON_S = 0.02
"""The second of a person, made short for a test."""


@pytest.fixture(params=[True, False], ids=["terminal", "file"])
def errors(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> io.StringIO:
    stream = io.StringIO()
    console = Console(file=stream, force_terminal=request.param, width=100, markup=False)
    monkeypatch.setattr(progress, "err", console)
    monkeypatch.setattr(screen, "err", console)
    return stream


def test_nothing_appears_of_what_is_done_within_the_second(
    errors: io.StringIO, capsys: pytest.CaptureFixture[str]
) -> None:
    assert progress.APPEARS_AFTER_S == 1.0
    with far_along(N_("Cooking")) as tell:
        tell(1, 2)
    assert errors.getvalue() == ""
    assert capsys.readouterr().out == ""


def test_what_takes_longer_says_so_while_it_runs(
    errors: io.StringIO, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(progress, "APPEARS_AFTER_S", SOON_S)
    with far_along(N_("Cooking")) as tell:
        tell(3, 8)
        give_up = time.monotonic() + 10
        while "Cooking" not in errors.getvalue():
            assert time.monotonic() < give_up
            time.sleep(SOON_S)
        during = errors.getvalue()
    if "…" not in during:
        assert "3/8" in during
    assert capsys.readouterr().out == ""


def test_a_run_that_fails_stops_its_bar(
    errors: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(progress, "APPEARS_AFTER_S", 0.0)

    def stopped_by_hand() -> None:
        with far_along(N_("Cooking")):
            time.sleep(SOON_S)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped_by_hand()
    ended = errors.getvalue()
    time.sleep(2 * SOON_S)
    assert errors.getvalue() == ended
