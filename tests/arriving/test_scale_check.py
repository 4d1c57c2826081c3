"""What is odd about a weighing. The page's script is held to the same cases in tests/browser."""

from typing import Any

import pytest

from fairsmoke.arriving.scale_check import doubt_of
from fairsmoke.trial.weighing import Part, Weighing

BEFORE: list[dict[str, Any]] = [
    {"piece": "", "sum": ["green tray"], "kg": 0.8},
    {"piece": "p", "sum": ["trimmed meat"], "kg": 4.0},
    {"piece": "q", "sum": ["trimmed meat"], "kg": 2.0},
    {"piece": "p", "sum": ["fresh wrap"], "kg": 0.03},
]
CASES: list[tuple[list[str], float, str | None]] = [
    (["cooked meat"], 2.4, None),
    # A piece cannot gain 300 g, nor 50; 20 g are the scale and a damp hand.
    (["cooked meat"], 4.3, "gained"),
    (["cooked meat"], 4.05, "gained"),
    (["cooked meat"], 4.02, None),
    # Its wrap, never weighed alone, and the juices may be 600 g together, not a kilogram.
    (["cooked meat", "used wrap", "drippings"], 4.5, None),
    (["cooked meat", "used wrap", "drippings"], 5.0, "gained"),
    # The tray is known and taken off.
    (["cooked meat", "green tray"], 4.7, None),
    (["cooked meat", "green tray"], 5.1, "gained"),
    (["cooked meat", "green tray"], 0.5, "less"),
    (["green tray"], 0.8, None),
    # A tray that was never weighed may weigh anything: nothing can be told.
    (["cooked meat", "blue tray"], 9.0, None),
    # Grams taken for kilograms, or a digit too few.
    (["cooked meat"], 0.24, "lost"),
    (["served meat"], 1.0, None),
    (["served meat"], 0.7, "lost"),
    # Weighed as bought after it was weighed as trimmed: trimming is not known, nothing is told.
    (["bought meat"], 4.6, None),
    (["used wrap"], 0.2, None),
]


def weighings() -> list[Weighing]:
    return [
        Weighing.model_validate(
            {
                "id": f"w{number}",
                "piece": one["piece"] or None,
                "scale": "s",
                "reading_kg": one["kg"],
                "sum": tuple(one["sum"]),
            }
        )
        for number, one in enumerate(BEFORE)
    ]


@pytest.mark.parametrize(("parts", "kg", "odd"), CASES)
def test_what_is_odd(parts: list[str], kg: float, odd: str | None) -> None:
    found = doubt_of(weighings(), "p", [Part.parse(part) for part in parts], kg)
    assert (found.kind.split()[0] if found else None) == odd


def test_what_was_injected_may_gain_before_it_goes_on() -> None:
    bought = Weighing.model_validate(
        {"id": "b", "piece": "p", "scale": "s", "reading_kg": 4.0, "sum": ("bought meat",)}
    )
    trimmed = [Part.parse("trimmed meat")]
    assert doubt_of([bought], "p", trimmed, 4.3) is not None
    assert doubt_of([bought], "p", trimmed, 4.3, injected=True) is None


def test_the_first_weighing_is_never_odd() -> None:
    assert doubt_of([], "p", [Part.parse("trimmed meat")], 40.0) is None
