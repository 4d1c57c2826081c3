"""What a person asks of the day, and how long a piece may be held by it."""

from dataclasses import dataclass, field

import numpy as np

from fairsmoke.planning.day.simulated_days import DayPiece
from fairsmoke.planning.day.steps import Minutes
from fairsmoke.planning.errors import PlanError
from fairsmoke.quantity import show_duration
from fairsmoke.trial.protocol import Place

HOUR_S = 3600.0
SHORTEST_S = {Place.CABINET: HOUR_S, Place.COOLER: HOUR_S}
LONGEST_S = {Place.CABINET: 12 * HOUR_S, Place.COOLER: 4 * HOUR_S}
"""Where neither protocol nor person says: common practice, no source."""
NO_HOLD_S = (0.0, 2 * HOUR_S)
"""Shortest and longest without a hold, on the counter: the two hours usually told for food that
stands out (USDA, second hand)."""


@dataclass(frozen=True)
class Asked:
    """What a person asks of the day; None leaves it to protocol or common practice.

    `together` puts all pieces on at once; else each so that the middle of all holds is as long.
    `not_before_s` is the earliest anything can be done (s from serving), such as now.
    `fuel_every_s`, `water_every_s`: 0 for no reminders.
    """

    certainty: float = 0.9
    hold_shortest_s: float | None = None
    hold_longest_s: float | None = None
    heat_up_s: float = HOUR_S
    rest_s: float = 1200.0
    together: bool = False
    not_before_s: float | None = None
    fuel_every_s: float = HOUR_S
    water_every_s: float = 2 * HOUR_S
    minutes: Minutes = field(default_factory=Minutes)

    def __post_init__(self) -> None:
        if not 0.5 <= self.certainty <= 0.99:
            raise PlanError(
                f"certainty {self.certainty:g}: give 0.5 to 0.99; the simulator's draws say "
                "nothing about one day in a hundred and rarer"
            )
        for what, value, most_s in (
            ("the shortest hold", self.hold_shortest_s, 7 * 86_400.0),
            ("the longest hold", self.hold_longest_s, 7 * 86_400.0),
            ("heating up", self.heat_up_s, 86_400.0),
            ("the rest before slicing, without heat,", self.rest_s, 4 * HOUR_S),
        ):
            if value is not None and not 0.0 <= value <= most_s:
                most = show_duration(most_s)
                raise PlanError(f"{what} of {_shown(value)}: give 0 to {most}")
        for what, value in (("fuel", self.fuel_every_s), ("water", self.water_every_s)):
            if value != 0.0 and not 900.0 <= value <= 86_400.0:
                raise PlanError(f"{what} every {_shown(value)}: give 15 min to 24 h, or 0 for none")


def _shown(seconds: float) -> str:
    return show_duration(seconds) if np.isfinite(seconds) else f"{seconds:g}"


def hold_of(piece: DayPiece, asked: Asked) -> tuple[float, float]:
    """Return the shortest and longest hold of a piece (s).

    The shortest is the protocol's own where it names a time. Raises PlanError for a shortest
    above the longest.
    """
    hold, nominal = piece.run.hold, piece.run.nominal_hold_s
    usual = NO_HOLD_S if hold is None else (SHORTEST_S[hold.place], LONGEST_S[hold.place])
    shortest = asked.hold_shortest_s
    if shortest is None:
        shortest = usual[0] if nominal is None else nominal
    longest = asked.hold_longest_s
    if longest is None:
        longest = max(usual[1], shortest if nominal is None else nominal)
    if shortest > longest:
        raise PlanError(
            f"{piece.name}: the shortest hold, {shortest / HOUR_S:g} h, is above the longest, "
            f"{longest / HOUR_S:g} h; give --hold-shortest and --hold-longest the right way round"
        )
    return shortest, longest


__all__ = ["HOUR_S", "Asked", "hold_of"]
