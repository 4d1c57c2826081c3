"""What each cover does to heat, vapour and liquid at the side of a piece that it lies on."""

from dataclasses import dataclass

from fairsmoke.trial.protocol import Cover

# Heat radiated per kelvin around 110 °C walls and an 80 °C wrap, black to black, W/(m²·K).
RADIATION_W_M2K = 11.0


@dataclass(frozen=True)
class Covering:
    """One cover: vapour permeance (kg/(m²·s·Pa)), conductance of what lies between it and the meat
    (W/(m²·K)), emissivity outside, whether it holds liquid against the meat, how much of it
    (kg/m² of the piece), and the source.
    """

    permeance: float
    gap_w_m2k: float
    emissivity: float
    wets: bool
    keeps_kg_m2: float
    source: str


OPEN = 1e6
"""The permeance and conductance of nothing."""

_GAP = "wet where it touches, a millimetre of air (30 W/(m²·K)) where not: 60, assumed"

COVERINGS: dict[Cover, Covering] = {
    Cover.BARE: Covering(OPEN, OPEN, 0.9, False, 0.0, "many foods 0.9 (second hand)"),
    Cover.PAPER: Covering(
        1.2e-9,
        60.0,
        0.9,
        True,
        0.15,
        "two-ply kraft building paper 1.8e-9 dry to 2.4e-9 wet (handbook table, from memory); one "
        f"ply lets through twice that, soaked with fat far less: assumed. {_GAP}",
    ),
    Cover.FOIL: Covering(
        5.0e-11,
        60.0,
        0.3,
        True,
        20.0,
        f"foil itself 0 to 3e-12 (handbook table, from memory); seams assumed. Bright foil 0.05 to "
        f"0.1, dull or smoked 0.2 to 0.4 (from memory). {_GAP}",
    ),
    Cover.FILM: Covering(
        2.0e-9,
        60.0,
        0.85,
        True,
        20.0,
        "plasticised PVC 25 µm 4.5e-10 to 12e-10 at 38 °C (packaging text, read), four times that "
        "hot (from memory)",
    ),
    Cover.FILM_UNDER_FOIL: Covering(
        1.0e-11, 60.0, 0.3, True, 20.0, "foil over film: seams overlap; assumed"
    ),
    Cover.TRAY: Covering(1.0e-12, 60.0, 0.3, True, 20.0, "metal or foil tray; assumed"),
}


def gap_share(cover: Covering, convection_w_m2k: float) -> float:
    """Return by how much the gap under a cover lessens the heat from outside (1 = not at all)."""
    outside = convection_w_m2k + RADIATION_W_M2K * cover.emissivity
    return cover.gap_w_m2k / (cover.gap_w_m2k + outside)
