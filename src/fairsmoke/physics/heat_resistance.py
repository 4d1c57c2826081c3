"""How much heat kills what: D and z of the organisms that matter in meat, from publications."""

from typing import NamedTuple

from fairsmoke.physics.sources import Citation, Seen


class Resistance(NamedTuple):
    """Minutes at `ref_c` that kill nine in ten (`d_min`), and kelvins that change it tenfold.

    `low_c` and `high_c` are the temperatures between which it was measured; where the source, or
    what was seen of it, does not say, 55 to 70 °C is assumed.
    """

    key: str
    organism: str
    matrix: str
    ref_c: float
    d_min: float
    z_c: float
    low_c: float
    high_c: float
    source: Citation


def _f(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


_SHEET = "American Meat Institute process-lethality sheet, table 1, August 2010"
_ABSTRACT = Seen.READ
_QUOTED = Seen.SECOND_HAND

RESISTANCES: dict[str, Resistance] = {
    r.key: r
    for r in (
        Resistance(
            "salmonella patty",
            "Salmonella",
            "meat patty",
            _f(150),
            0.172,
            10 / 1.8,
            54.4,
            70.0,
            Citation(
                f"Scott & Weddig 1998, in the {_SHEET}",
                _QUOTED,
                "reproduces the 6.5-log column of the cooking guideline",
            ),
        ),
        Resistance(
            "salmonella fat beef",
            "Salmonella",
            "ground beef, 25 % fat",
            _f(140),
            4.72,
            14.5 / 1.8,
            55.0,
            70.0,
            Citation(f"Juneja 2003, in the {_SHEET}", _QUOTED),
        ),
        Resistance(
            "e. coli lean beef",
            "E. coli O157:H7",
            "lean beef, 2 % fat",
            _f(145),
            0.30,
            8.3 / 1.8,
            _f(125),
            _f(145),
            Citation(
                "Line et al. 1991, J. Food Prot. 54(10):762: D 78.2, 4.1, 0.3 min at 125, 135, "
                "145 °F",
                _ABSTRACT,
            ),
        ),
        Resistance(
            "e. coli fatty beef",
            "E. coli O157:H7",
            "beef, 30.5 % fat",
            _f(145),
            0.5,
            8.4 / 1.8,
            _f(125),
            _f(145),
            Citation(
                "Line et al. 1991, J. Food Prot. 54(10):762: D 115.5, 5.3, 0.5 min at 125, 135, "
                "145 °F",
                _ABSTRACT,
            ),
        ),
        Resistance(
            "e. coli fat beef 25",
            "E. coli O157:H7",
            "ground beef, 25 % fat",
            _f(140),
            3.39,
            11.4 / 1.8,
            55.0,
            70.0,
            Citation(f"Juneja 2003, in the {_SHEET}", _QUOTED),
        ),
        Resistance(
            "e. coli beef 90",
            "E. coli O157:H7",
            "90 % lean beef",
            60.0,
            3.17,
            6.0,
            55.0,
            65.0,
            Citation(
                "Juneja et al. 1997, Int. J. Food Microbiol. 35:231–237: D 21.13, 4.95, 3.17, "
                "0.93, 0.39 min at 55, 57.5, 60, 62.5, 65 °C",
                _ABSTRACT,
            ),
        ),
        Resistance(
            "listeria lean beef",
            "Listeria monocytogenes",
            "lean beef, 2 % fat",
            _f(145),
            0.6,
            9.3 / 1.8,
            _f(125),
            _f(145),
            Citation(f"Fain et al. 1991, in the {_SHEET}", _QUOTED),
        ),
        Resistance(
            "listeria fat beef",
            "Listeria monocytogenes",
            "ground beef, 25 % fat",
            _f(140),
            4.1,
            12.0 / 1.8,
            55.0,
            70.0,
            Citation(f"Juneja 2003, in the {_SHEET}", _QUOTED),
        ),
        Resistance(
            "listeria cured sausage",
            "Listeria monocytogenes",
            "hot dog",
            _f(144),
            3.3,
            10.8 / 1.8,
            55.0,
            71.0,
            Citation("AMI Foundation lethality page", _QUOTED),
        ),
        Resistance(
            "perfringens cells",
            "Clostridium perfringens, growing cells",
            "ground beef",
            60.0,
            5.3,
            6.8,
            55.0,
            62.5,
            Citation(
                "Juneja & Marmer 1998, Food Microbiol. 15:281–287: D 21.6, 10.2, 5.3, 1.6 min at "
                "55, 57.5, 60, 62.5 °C",
                _ABSTRACT,
                "z refitted here; no barbecue cook kills its spores (60 min and more at 100 °C)",
            ),
        ),
    )
}

# The D values of which `Resistance` keeps one and a z, for checks: °C and minutes.
MEASURED_D: dict[str, tuple[tuple[float, float], ...]] = {
    "e. coli lean beef": ((_f(125), 78.2), (_f(135), 4.1), (_f(145), 0.30)),
    "e. coli fatty beef": ((_f(125), 115.5), (_f(135), 5.3), (_f(145), 0.5)),
    "e. coli beef 90": ((55.0, 21.13), (57.5, 4.95), (60.0, 3.17), (62.5, 0.93), (65.0, 0.39)),
    "perfringens cells": ((55.0, 21.6), (57.5, 10.2), (60.0, 5.3), (62.5, 1.6)),
}
