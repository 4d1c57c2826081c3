"""Published limits for coming up, holding, cooling and reheating: the rule, its source, as data.

Rules in our own words. They differ between authorities and editions; the law where the food is
served decides. Nothing here says that food is safe.
"""

from typing import Literal, NamedTuple

from fairsmoke.physics.sources import Citation, Seen

Topic = Literal["come-up", "holding", "cooling", "reheating", "time instead", "surface"]


class SafetyLimit(NamedTuple):
    """One published rule. What does not apply is None.

    From `from_c` to `to_c` within `within_s` (cooling, come-up, reheating), or at `at_least_c` or
    above (holding) for `for_s`. `part_of` groups rules that must be met together.
    """

    key: str
    topic: Topic
    rule: str
    from_c: float | None
    to_c: float | None
    at_least_c: float | None
    within_s: float | None
    for_s: float | None
    part_of: str
    source: Citation


class OvenRow(NamedTuple):
    """Least (or greatest) oven temperature for whole roasts under the Food Code, by mass."""

    oven: str
    below_4_5_kg_c: float
    from_4_5_kg_c: float
    is_least: bool


_HOUR = 3600.0
_CODE = "FDA Food Code"
_STATES = "read word for word in state adoptions"
_APP_A = "USDA FSIS, Appendix A, 1999"
_APP_B = "USDA FSIS, Appendix B"


def _within(
    key: str, topic: Topic, rule: str, span: tuple[float, float, float], part: str, source: Citation
) -> SafetyLimit:
    """Return a rule of the kind: from span[0] to span[1] °C within span[2] seconds."""
    return SafetyLimit(key, topic, rule, span[0], span[1], None, span[2], None, part, source)


def _at_least(
    key: str, topic: Topic, rule: str, hold: tuple[float, float | None], source: Citation
) -> SafetyLimit:
    """Return a rule of the kind: at hold[0] °C or above, for hold[1] seconds if given."""
    return SafetyLimit(key, topic, rule, None, None, hold[0], None, hold[1], "", source)


_COME_UP = (
    _within(
        "come-up 6 h",
        "come-up",
        "No part of the meat spends more than 6 h between 10 and 54.4 °C while warming, because "
        "staphylococci may leave a toxin that no cooking undoes.",
        (10.0, 54.4, 6 * _HOUR),
        "",
        Citation(
            "FSIS rule as told by Shrestha et al. 2025, J. Food Prot. 88(2):100445",
            Seen.SECOND_HAND,
            "their tests grew 1.1 log in beef in 6 h where models said 4.2",
        ),
    ),
)
_HOLDING = (
    _at_least(
        "hold 57 °C",
        "holding",
        "Cooked food held hot stays at 57 °C (135 °F) or above in every part.",
        (57.0, None),
        Citation(f"{_CODE} 3-501.16(A)(1)", Seen.READ, _STATES),
    ),
    _at_least(
        "hold 54 °C roast",
        "holding",
        "A whole-meat roast cooked by the time–temperature table may be held at 54 °C (130 °F).",
        (54.0, None),
        Citation(f"{_CODE} 3-501.16(A)(1)", Seen.READ, _STATES),
    ),
    _at_least(
        "hold 60 °C",
        "holding",
        "Held hot at 60 °C (140 °F) or above at all points: growth is unlikely above 57 °C, slight "
        "growth up to 60 °C was seen in single studies.",
        (60.0, None),
        Citation("BfR Opinion 037/2020, 27 August 2020", Seen.READ),
    ),
    _at_least(
        "hold 60 °C FSIS",
        "holding",
        "Hot holding in the US guideline for stabilisation is at 60 °C (140 °F) or above.",
        (60.0, None),
        Citation("FSIS-GD-2021-13", Seen.MEMORY),
    ),
)
_COOLING = (
    _within(
        "code 57 to 21",
        "cooling",
        "From 57 to 21 °C (135 to 70 °F) within 2 h.",
        (57.0, 21.0, 2 * _HOUR),
        "Food Code",
        Citation(f"{_CODE} 3-501.14(A)", Seen.READ, _STATES),
    ),
    _within(
        "code 57 to 5",
        "cooling",
        "From 57 to 5 °C (135 to 41 °F) within 6 h in all, not 2 h and another 6 h.",
        (57.0, 5.0, 6 * _HOUR),
        "Food Code",
        Citation(f"{_CODE} 3-501.14(A)", Seen.READ, _STATES),
    ),
    _within(
        "option 1, 54.4 to 26.7",
        "cooling",
        "Uncured meat from 54.4 to 26.7 °C (130 to 80 °F) within 1.5 h.",
        (54.4, 26.7, 1.5 * _HOUR),
        "Appendix B option 1",
        Citation(f"{_APP_B}, option 1, as two university and trade pages give it", Seen.READ),
    ),
    _within(
        "option 1, 26.7 to 4.4",
        "cooling",
        "Then from 26.7 to 4.4 °C (80 to 40 °F) within 5 h.",
        (26.7, 4.4, 5 * _HOUR),
        "Appendix B option 1",
        Citation(f"{_APP_B}, option 1, as two university and trade pages give it", Seen.READ),
    ),
    _within(
        "option 2, 48.9 to 12.8",
        "cooling",
        "From 48.9 to 12.8 °C (120 to 55 °F) within 6 h; above 1 h from 48.9 to 26.7 °C it is "
        "less certain to hold growth down.",
        (48.9, 12.8, 6 * _HOUR),
        "Appendix B option 2",
        Citation(f"{_APP_B}, option 2 (1999), university page", Seen.READ),
    ),
    _within(
        "cured, 54.4 to 26.7",
        "cooling",
        "Cured meat (nitrite of 100 ppm and more) from 54.4 to 26.7 °C within 5 h.",
        (54.4, 26.7, 5 * _HOUR),
        "Appendix B cured",
        Citation(f"{_APP_B}, option 3", Seen.MEMORY),
    ),
    _within(
        "cured, 26.7 to 7.2",
        "cooling",
        "Then from 26.7 to 7.2 °C (80 to 45 °F) within 10 h.",
        (26.7, 7.2, 10 * _HOUR),
        "Appendix B cured",
        Citation(f"{_APP_B}, option 3", Seen.MEMORY, "one page prints 4.4 °C (40 °F) instead"),
    ),
)
_REHEATING = (
    _within(
        "reheat 2 h",
        "reheating",
        "Food reheated for hot holding passes from 5 to 74 °C within 2 h.",
        (5.0, 74.0, 2 * _HOUR),
        "reheat for holding",
        Citation(f"{_CODE} 3-403.11(A), (D)", Seen.READ, _STATES),
    ),
    _at_least(
        "reheat 74 °C",
        "reheating",
        "All parts of it reach 74 °C (165 °F) for 15 s.",
        (74.0, 15.0),
        Citation(f"{_CODE} 3-403.11(A)", Seen.READ, _STATES),
    ),
)
_TIME_INSTEAD = (
    SafetyLimit(
        "4 h without heat",
        "time instead",
        "Hot food (57 °C at the start) may stand without temperature control for 4 h at most if "
        "the time is marked; then it is served or thrown away.",
        57.0,
        None,
        None,
        4 * _HOUR,
        None,
        "",
        Citation(f"{_CODE} 3-501.19(B)", Seen.READ, _STATES),
    ),
)
_SURFACE = (
    SafetyLimit(
        "humid quarter",
        "surface",
        "While cooking by the table, 90 % relative humidity for a quarter of the time and 1 h at "
        "the least, or steam or a sealed oven for half the time; meat sealed in a moisture-proof "
        "wrap needs none. Pieces of 4.5 kg and more may instead cook in dry air of 121 °C.",
        None,
        None,
        None,
        None,
        _HOUR,
        "",
        Citation(
            f"{_APP_A}, in a reposted jerky guideline", Seen.SECOND_HAND, "dry-air rule from memory"
        ),
    ),
)

SAFETY_LIMITS: dict[str, SafetyLimit] = {
    limit.key: limit
    for group in (_COME_UP, _HOLDING, _COOLING, _REHEATING, _TIME_INSTEAD, _SURFACE)
    for limit in group
}
COME_UP = SAFETY_LIMITS["come-up 6 h"]
GROWTH_WINDOW_C = (4.0, 60.0)
"""Where bacteria grow (°C), as USDA says to the public: 40 to 140 °F (second hand)."""
LEAST_SALMONELLA_LOG = 6.5
"""Tenfold reductions of Salmonella asked of cooked beef: 9 CFR 318.17(a)(1), read."""

OVEN_SOURCE = Citation(f"{_CODE} 3-401.11(B), whole-meat roasts", Seen.READ, _STATES)
OVEN_ROWS = (
    OvenRow("still, dry", 177.0, 121.0, True),
    OvenRow("convection", 163.0, 121.0, True),
    OvenRow("high humidity or moisture-proof bag", 121.0, 121.0, False),
)


def limits_on(topic: Topic) -> list[SafetyLimit]:
    """Return the published rules on one topic, in the order in which they stand here.

    >>> [limit.at_least_c for limit in limits_on("holding")]
    [57.0, 54.0, 60.0, 60.0]
    """
    return [limit for limit in SAFETY_LIMITS.values() if limit.topic == topic]


def timed(limit: SafetyLimit) -> tuple[float, float, float]:
    """Return from where (°C), to where (°C) and within which time (s) a rule asks to go.

    Raises ValueError for a rule of another kind.
    """
    if limit.from_c is None or limit.to_c is None:
        raise ValueError(f"the rule '{limit.key}' does not go from one temperature to another")
    return limit.from_c, limit.to_c, within_s(limit)


def within_s(limit: SafetyLimit) -> float:
    """Return the time (s) within which a rule wants something done.

    Raises ValueError for a rule of another kind.
    """
    if limit.within_s is None:
        raise ValueError(f"the rule '{limit.key}' names no longest time")
    return limit.within_s


def least_c(limit: SafetyLimit) -> float:
    """Return the temperature (°C) that a rule asks for at the least.

    Raises ValueError for a rule of another kind.
    """
    if limit.at_least_c is None:
        raise ValueError(f"the rule '{limit.key}' names no least temperature")
    return limit.at_least_c
