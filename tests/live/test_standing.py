"""Where a piece stands, by what was done to it."""

from datetime import UTC, datetime, timedelta

import pytest

from fairsmoke.live.trial_status import Stand, piece_stand
from fairsmoke.trial.cook import Event, Piece

START = datetime(2026, 5, 2, 18, tzinfo=UTC)
PIECE = Piece(id="flat", name="Flat", cut="brisket", species="beef", cook="first", arm="bare")


@pytest.mark.parametrize(
    ("kinds", "stand"),
    [
        ("", Stand.WAITING),
        ("on", Stand.ON),
        ("on wrap", Stand.WRAPPED),
        ("on wrap unwrap", Stand.ON),
        ("on wrap pull", Stand.OFF),
        # Paper off on the table, or a towel around it in the hold, puts nothing back on the fire.
        ("on wrap pull unwrap", Stand.OFF),
        ("on wrap pull unwrap hold", Stand.HELD),
        ("on pull wrap", Stand.OFF),
        ("on pull hold wrap", Stand.HELD),
        ("wrap on", Stand.ON),
        ("on pull hold on", Stand.ON),
        ("on pull hold slice", Stand.SLICED),
    ],
)
def test_a_piece_stands_where_it_was_put(kinds: str, stand: Stand) -> None:
    events = [
        Event(id=f"e-{n}", cook="first", at=START + timedelta(hours=n), kind=kind, pieces=("flat",))
        for n, kind in enumerate(kinds.split())
    ]
    assert piece_stand(PIECE, events).stand is stand
    assert piece_stand(PIECE, events[::-1]).stand is stand
