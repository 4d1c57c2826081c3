"""What each cover does to heat, vapour and liquid at the side of a piece that it lies on."""

from dataclasses import dataclass

from fairsmoke.trial.protocol import Cover

# Heat radiated per kelvin around 110 °C walls and an 80 °C wrap, black to black, W/(m²·K).
RADIATION_W_M2K = 11.0


@dataclass(frozen=True)
class Covering:
    """One cover: vapour permeance (kg/(m²·s·Pa)), conductance of what lies between it and the meat
    (W/(m²·K)) and emissivity outside, both above and below; whether it holds liquid against the
    meat above and below, how much of it (kg/m² of the piece); by how much a kg of fat per m² of
    the piece adds to its vapour resistance, as a share; and the source.
    """

    permeance: float
    gap_w_m2k: tuple[float, float]
    emissivity: tuple[float, float]
    wets: tuple[bool, bool]
    keeps_kg_m2: float
    fat_closes_m2_kg: float
    source: str


OPEN = 1e6
"""The permeance and conductance of nothing."""

_GAP = "wet where it touches, a millimetre of air (30 W/(m²·K)) where not: 60, assumed"
_UNDER = (
    "below the piece's weight presses it on, with juice between: 150, assumed, and smoke and fat "
    "dull the outside: 0.7 (bright 0.03 to 0.1, roughened 0.18 to 0.28, weathered 0.83 to 0.94, "
    "soot 0.95; camera tables, read; foil under smoke not found)"
)

COVERINGS: dict[Cover, Covering] = {
    Cover.BARE: Covering(
        OPEN, (OPEN, OPEN), (0.9, 0.9), (False, False), 0.0, 0.0, "many foods 0.9 (second hand)"
    ),
    Cover.PAPER: Covering(
        1.2e-9,
        (60.0, 60.0),
        (0.9, 0.9),
        (False, True),
        0.15,
        10.0,
        "two-ply kraft building paper 1.8e-9 dry to 2.4e-9 wet (handbook table, from memory); one "
        "ply lets through twice that: assumed half, for two layers overlap. Juice stands only "
        "where it collects, below; above the paper is as wet as what arrives there. Its pores fill "
        "with fat: 0.12 mm at 3e-13 kg/(m·s·Pa) of molten fat (from memory) and half the section "
        f"add once and a half its own resistance when full (0.15 kg/m²). {_GAP}",
    ),
    Cover.FOIL: Covering(
        5.0e-11,
        (60.0, 150.0),
        (0.25, 0.7),
        (True, True),
        20.0,
        0.0,
        "foil itself 0 to 3e-12 (handbook table, from memory); seams assumed. Above roughened by "
        f"the hand, 0.18 to 0.28 (camera tables, read). {_GAP}; {_UNDER}",
    ),
    Cover.FILM: Covering(
        2.0e-9,
        (60.0, 150.0),
        (0.85, 0.85),
        (True, True),
        20.0,
        0.0,
        "plasticised PVC 25 µm 4.5e-10 to 12e-10 at 38 °C (packaging text, read), four times that "
        "hot (from memory)",
    ),
    Cover.FILM_UNDER_FOIL: Covering(
        1.0e-11,
        (60.0, 150.0),
        (0.25, 0.7),
        (True, True),
        20.0,
        0.0,
        f"foil over film: seams overlap; assumed. {_UNDER}",
    ),
    Cover.TRAY: Covering(
        1.0e-12,
        (60.0, 150.0),
        (0.25, 0.7),
        (True, True),
        20.0,
        0.0,
        f"metal or foil tray; assumed. {_UNDER}",
    ),
}


def gap_share(cover: Covering, side: int, convection_w_m2k: float) -> float:
    """Return by how much the gap under a cover lessens the heat from outside (1 = not at all).

    `side` 0 is above, 1 below.
    """
    outside = convection_w_m2k + RADIATION_W_M2K * cover.emissivity[side]
    return cover.gap_w_m2k[side] / (cover.gap_w_m2k[side] + outside)
