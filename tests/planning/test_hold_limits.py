"""How long a piece may be held and stand, and the limits of what may be asked of a day."""

from typing import Any, cast

import numpy as np
import pytest
from tests.planning.when_days import HOUR_S, protocol

from fairsmoke.planning.day.constraints import (
    NO_HOLD_S,
    DayConstraints,
    hold_of,
)
from fairsmoke.planning.day.simulated_days import DayPiece
from fairsmoke.planning.day.steps import run_of
from fairsmoke.planning.day.usual_holds import UsualHold, usual_hold
from fairsmoke.planning.errors import PlanError
from fairsmoke.trial.protocol import EndCondition, Place, Protocol

BY_CORE = (EndCondition(core_c=60.0),)


def held(place: Place | None, nominal_h: float | None = None) -> DayPiece:
    """Return a piece held at a place for so long by its protocol, or not held at all."""
    *cooked, hold = protocol().stages
    ends = BY_CORE if nominal_h is None else (EndCondition(elapsed_s=nominal_h * HOUR_S),)
    if place is not None:
        cooked.append(hold.model_copy(update={"place": place, "ends": ends}))
    run = run_of(Protocol(stages=tuple(cooked)))
    return DayPiece("p", "P", "paper", "Paper", "barrel", "left", run, np.ones((2, 2)))


def test_the_usual_times() -> None:
    # Counter: two hours (USDA, second hand). Cabinet and cooler: common practice, no source.
    assert NO_HOLD_S == (0.0, 7200.0)
    assert usual_hold("", Place.CABINET) == UsualHold(3600.0, 43200.0)
    assert usual_hold("", Place.COOLER) == UsualHold(3600.0, 14400.0)
    # Ribs are soft after half an hour; a cooler never keeps longer than a cut may be held.
    assert usual_hold("pork ribs", Place.CABINET) == UsualHold(1800.0, 10800.0)
    assert usual_hold("pork ribs", Place.COOLER) == UsualHold(1800.0, 10800.0)


@pytest.mark.parametrize(
    ("place", "nominal_h", "shortest_h", "longest_h", "found"),
    [
        (None, None, None, None, (0, 2)),
        (Place.CABINET, None, None, None, (1, 12)),
        (Place.COOLER, None, None, None, (1, 4)),
        # The protocol's own time is the shortest; the usual longest goes on unless it is longer.
        (Place.COOLER, 2, None, None, (2, 4)),
        (Place.COOLER, 4, None, None, (4, 4)),
        (Place.COOLER, 6, None, None, (6, 6)),
        (Place.COOLER, 0.5, None, None, (0.5, 4)),
        # What is asked goes before both.
        (Place.COOLER, 2, 3, None, (3, 4)),
        (Place.COOLER, 6, 3, None, (3, 6)),
        (Place.CABINET, 2, None, 3, (2, 3)),
        (Place.CABINET, 2, 3, 3, (3, 3)),
        (Place.COOLER, None, 5, None, (5, 5)),
        (Place.COOLER, None, 0, 0, (0, 0)),
        (None, None, 1, 3, (1, 3)),
    ],
)
def test_how_long_a_piece_is_held(
    place: Place | None,
    nominal_h: float | None,
    shortest_h: float | None,
    longest_h: float | None,
    found: tuple[float, float],
) -> None:
    asked = DayConstraints(
        hold_shortest_s=None if shortest_h is None else shortest_h * HOUR_S,
        hold_longest_s=None if longest_h is None else longest_h * HOUR_S,
    )
    shortest_s, longest_s = hold_of(held(place, nominal_h), asked)
    assert (shortest_s / HOUR_S, longest_s / HOUR_S) == found


def test_a_shortest_above_the_longest_is_refused() -> None:
    with pytest.raises(PlanError, match="the right way round") as caught:
        hold_of(held(Place.COOLER, 2), DayConstraints(hold_longest_s=2 * HOUR_S - 1))
    assert caught.value.field == "hold_longest"
    # Five hours asked of a cooler that keeps four, where the protocol says two.
    with pytest.raises(PlanError, match="the right way round"):
        hold_of(held(Place.COOLER, 2), DayConstraints(hold_shortest_s=5 * HOUR_S))


def asked(name: str, value: float) -> DayConstraints:
    return DayConstraints(**cast(Any, {name: value}))


@pytest.mark.parametrize(
    ("name", "field", "least", "most", "off_s"),
    [
        ("certainty", "certainty", 0.5, 0.99, 0.001),
        ("hold_shortest_s", "hold_shortest", 0.0, 7 * 24 * HOUR_S, 0.1),
        ("hold_longest_s", "hold_longest", 0.0, 7 * 24 * HOUR_S, 0.1),
        ("heat_up_s", "heat_up", 0.0, 24 * HOUR_S, 0.1),
        ("rest_s", "rest", 0.0, 4 * HOUR_S, 0.1),
        ("fuel_every_s", "fuel_every", 0.25 * HOUR_S, 24 * HOUR_S, 0.1),
        ("water_every_s", "water_every", 0.25 * HOUR_S, 24 * HOUR_S, 0.1),
    ],
)
def test_what_may_be_asked_of_a_day(
    name: str, field: str, least: float, most: float, off_s: float
) -> None:
    for value in (least, most):
        assert getattr(asked(name, value), name) == value
    for value in (least - off_s, most + off_s):
        with pytest.raises(PlanError) as caught:
            asked(name, value)
        assert caught.value.field == field


def test_what_is_asked_unless_told_otherwise() -> None:
    usual = DayConstraints()
    assert (usual.certainty, usual.heat_up_s, usual.rest_s) == (0.9, HOUR_S, HOUR_S / 3)
    assert (usual.fuel_every_s, usual.water_every_s) == (HOUR_S, 2 * HOUR_S)
    assert usual.together is False
    # No reminders at all.
    none = DayConstraints(fuel_every_s=0.0, water_every_s=0.0)
    assert (none.fuel_every_s, none.water_every_s) == (0.0, 0.0)
