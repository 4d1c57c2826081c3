"""What a person asks of the day, and how long a piece may be held by it."""

from dataclasses import dataclass, field

from fairsmoke.messages.message import N_, InputField
from fairsmoke.planning.day.simulated_days import DayPiece
from fairsmoke.planning.day.steps import Minutes
from fairsmoke.planning.day.usual_holds import usual_hold
from fairsmoke.planning.errors import PlanError
from fairsmoke.quantity.values import Duration

HOUR_S = 3600.0
NO_HOLD_S = (0.0, 2 * HOUR_S)
"""Shortest and longest without a hold, on the counter: the two hours usually told for food that
stands out (USDA, second hand)."""


@dataclass(frozen=True)
class DayConstraints:
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
                N_(
                    "%(field)s of %(value)s: give 0.5 to 0.99; the simulator's draws say nothing "
                    "about one day in a hundred and rarer.",
                    field=InputField("certainty"),
                    value=f"{self.certainty:g}",
                ),
                field="certainty",
            )
        for name, value, most_s in (
            ("hold_shortest", self.hold_shortest_s, 7 * 86_400.0),
            ("hold_longest", self.hold_longest_s, 7 * 86_400.0),
            ("heat_up", self.heat_up_s, 86_400.0),
            ("rest", self.rest_s, 4 * HOUR_S),
        ):
            if value is not None and not 0.0 <= value <= most_s:
                raise _outside(name, value, 0.0, most_s)
        for name, value in (("fuel_every", self.fuel_every_s), ("water_every", self.water_every_s)):
            if value != 0.0 and not 900.0 <= value <= 86_400.0:
                raise _outside(name, value, 900.0, 86_400.0)


def _outside(name: str, value: float, least_s: float, most_s: float) -> PlanError:
    return PlanError(
        N_(
            "%(field)s of %(value)s: give %(least)s to %(most)s.",
            field=InputField(name),
            value=Duration(value),
            least=Duration(least_s),
            most=Duration(most_s),
        ),
        field=name,
    )


def hold_of(piece: DayPiece, asked: DayConstraints) -> tuple[float, float]:
    """Return the shortest and longest hold of a piece (s).

    The shortest is the protocol's own where it names a time, else what is usual for the cut.
    Raises PlanError for a shortest above the longest.
    """
    hold, nominal = piece.run.hold, piece.run.nominal_hold_s
    usual = NO_HOLD_S
    if hold is not None:
        known = usual_hold(piece.cut, hold.place)
        usual = known.shortest_s, known.longest_s
    shortest = asked.hold_shortest_s
    if shortest is None:
        shortest = usual[0] if nominal is None else nominal
    longest = asked.hold_longest_s
    if longest is None:
        longest = max(usual[1], shortest if nominal is None else nominal)
    if shortest > longest:
        raise PlanError(
            N_(
                "%(piece)s: %(shortest)s of %(least)s is above %(longest)s of %(most)s; give them "
                "the right way round.",
                piece=piece.name,
                shortest=InputField("hold_shortest"),
                longest=InputField("hold_longest"),
                least=Duration(shortest),
                most=Duration(longest),
            ),
            field="hold_longest",
        )
    return shortest, longest
