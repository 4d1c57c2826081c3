"""From what a cook can measure on a piece to columns of cells that the solver works on."""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from fairsmoke.cooking.cells import AREA, FIXED, PLACE, RAW_WATER, RENDERS, SOLIDS
from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.cuts import CUTS, Cut, Flesh
from fairsmoke.cooking.stepping import FAT, HEAT, HOLDS, STATE, WATER, Shape
from fairsmoke.cooking.tables import H_F, H_S, H_W, LOW_C, ROWS, STEP_K, V_F, V_S, V_W, build
from fairsmoke.physics.ranges import FloatArray

CELLS = 25
COLUMNS = 12
# How much finer the cells are at the surface than in the middle (β of the tanh spacing).
STRETCH = 1.5
COLDEST_START_C, HOTTEST_START_C = -1.5, 60.0


class BodyError(ValueError):
    """What was measured on a piece cannot be; the message says what to measure again."""


@dataclass(frozen=True)
class Piece:
    """A piece as measured: mass, length, width, thickness at its thick and thin end, fat cap.

    `cut` is a name in cuts.CUTS. `thin_m` and `cap_m` may be left out: the cut's usual ones are
    taken. `flesh` overrides the cut's composition.
    """

    cut: str
    mass_kg: float
    length_m: float
    width_m: float
    thick_m: float
    thin_m: float | None = None
    cap_m: float | None = None
    start_c: float = 4.0
    flesh: Flesh | None = None


class Body(NamedTuple):
    """A piece cut into cells: the solver's shape and starting state, and where its regions are."""

    shape: Shape
    state: FloatArray
    start_kg: float
    core: FloatArray
    probes: FloatArray
    probe_names: tuple[str, ...]
    cap: FloatArray
    cut: Cut
    column_m: FloatArray


@dataclass(frozen=True)
class _Section:
    """One column before it is cut up: thickness, volume and surface."""

    thick_m: float
    volume_m3: float
    surface_m2: float
    long_m: float = field(default=0.0)


def one_column(piece: Piece, constants: Constants = DEFAULT, cells: int = CELLS) -> Body:
    """Return the reduced body: one column through the thick part with the whole piece's surface.

    Its curvature is chosen so that thickness, mass and surface of the piece are all kept.
    """
    cut, flesh, volume = _checked(piece, constants)
    sections = _sections(piece, cut, volume, 8)
    surface = sum(section.surface_m2 for section in sections)
    whole = _Section(piece.thick_m, volume, surface)
    return _assemble(piece, cut, flesh, [whole], constants, cells)


def two_dimensional(
    piece: Piece,
    constants: Constants = DEFAULT,
    columns: int = COLUMNS,
    cells: int = CELLS,
) -> Body:
    """Return the body as a row of columns from its thick to its thin end."""
    cut, flesh, volume = _checked(piece, constants)
    sections = _sections(piece, cut, volume, columns)
    return _assemble(piece, cut, flesh, sections, constants, cells)


def spacing(cells: int, stretch: float = STRETCH) -> FloatArray:
    """Return the faces of the cells from −1 (bottom of nothing) to 1, fine at both ends."""
    even = np.linspace(-1.0, 1.0, cells + 1)
    if stretch <= 0.0:
        return even
    return np.asarray(np.tanh(stretch * even) / np.tanh(stretch))


def curved(faces: FloatArray, curvature: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return areas at the faces, mean areas and volumes of cells whose area grows as |ξ|^curvature.

    0 is a slab, 1 a cylinder, 2 a ball; all as shares of the surface and of half the thickness.
    """
    power = curvature + 1.0
    volume = np.diff(np.sign(faces) * np.abs(faces) ** power) / power
    if curvature == 0.0:
        return np.ones_like(faces), volume / np.diff(faces), volume
    return np.abs(faces) ** curvature, volume / np.diff(faces), volume


def _checked(piece: Piece, constants: Constants) -> tuple[Cut, Flesh, float]:
    if piece.cut not in CUTS:
        raise BodyError(f'no cut is called "{piece.cut}". There are: {", ".join(CUTS)}.')
    cut = CUTS[piece.cut]
    sizes = {
        "mass": (piece.mass_kg, 0.05, 40.0, "kg"),
        "length": (piece.length_m, 0.02, 2.0, "m"),
        "width": (piece.width_m, 0.02, 1.0, "m"),
        "thickness": (piece.thick_m, 0.005, 0.4, "m"),
        "starting temperature": (piece.start_c, COLDEST_START_C, HOTTEST_START_C, "°C"),
    }
    for name, (value, low, high, unit) in sizes.items():
        if not low <= value <= high:
            raise BodyError(
                f"{name} of the piece is {value:g} {unit}; the model takes {low:g} to {high:g}. "
                "Measure again, or thaw a frozen piece first."
            )
    flesh = piece.flesh or cut.flesh
    volume = piece.mass_kg * _volume_per_kg(flesh, piece.start_c, constants)
    box = piece.length_m * piece.width_m * _mean_thickness(piece, cut)
    filled = volume / box
    if not 0.3 <= filled <= 1.1:
        raise BodyError(
            f"{piece.mass_kg:g} kg would fill {100 * filled:.0f} % of a box of the measured "
            "length, width and thickness; 40 to 100 % is usual. Measure again."
        )
    return cut, flesh, volume


def _mean_thickness(piece: Piece, cut: Cut) -> float:
    thin = piece.thin_m if piece.thin_m is not None else cut.thin_share * piece.thick_m
    return 0.5 * (piece.thick_m + min(thin, piece.thick_m))


def _volume_per_kg(flesh: Flesh, temp_c: float, constants: Constants) -> float:
    solids, water, fat = flesh.parts(constants.ash_of_protein)
    table = build(constants)
    place = int((temp_c - LOW_C) / STEP_K)
    row = table[min(max(place, 0), ROWS - 1)]
    return float(solids * row[V_S] + water * row[V_W] + fat * row[V_F])


def _sections(piece: Piece, cut: Cut, volume_m3: float, columns: int) -> list[_Section]:
    """Return columns from thick to thin whose volumes add up to the piece's."""
    thin = piece.thin_m if piece.thin_m is not None else cut.thin_share * piece.thick_m
    thin = min(thin, piece.thick_m)
    middle = (np.arange(columns) + 0.5) / columns
    thick = piece.thick_m + (thin - piece.thick_m) * middle
    long = piece.length_m / columns
    box = float(np.sum(thick)) * long * piece.width_m
    filled = min(volume_m3 / box, 1.0)
    width = piece.width_m * volume_m3 / box / filled
    if cut.sides == "none":
        perimeter = np.full(columns, 2.0 * width)
    else:
        # Rounder sections have a shorter rim: a circle fills π/4 of its box and has π/4 of its rim.
        perimeter = 2.0 * (width + thick) * filled
    surface = perimeter * long
    section = thick * width * filled
    if cut.sides == "all":
        surface[0] += section[0]
        surface[-1] += section[-1]
    volumes = section * long
    return [
        _Section(float(t), float(v), float(s), long)
        for t, v, s in zip(thick, volumes, surface, strict=True)
    ]


def _assemble(
    piece: Piece,
    cut: Cut,
    flesh: Flesh,
    sections: list[_Section],
    constants: Constants,
    cells: int,
) -> Body:
    if cells % 2 == 0 or cells < 5:
        raise BodyError(f"{cells} cells through the thickness: give an odd number, 5 or more.")
    columns = len(sections)
    table = build(constants, cut.species)
    faces = spacing(cells)
    fixed = np.zeros((columns, FIXED, cells))
    face, plan = np.zeros((columns, cells + 1)), np.zeros(columns)
    state = np.zeros((STATE, columns, cells))
    cap_share = np.zeros((columns, cells))
    cap_m = piece.cap_m if piece.cap_m is not None else cut.cap_m
    for c, section in enumerate(sections):
        half = section.thick_m / 2.0
        curvature = max(0.0, half * section.surface_m2 / section.volume_m3 - 1.0)
        face[c], area, volume = curved(faces, min(curvature, 2.0))
        plan[c] = section.volume_m3 / (half * float(np.sum(volume)))
        depth = half * (faces + 1.0)
        in_cap = np.clip((cap_m - depth[:-1]) / np.diff(depth), 0.0, 1.0)
        _fill(fixed[c], state[:, c], half * volume, in_cap, flesh, cut, constants, table, piece)
        fixed[c, AREA] = area
        fixed[c, PLACE] = 0.25 * (faces[:-1] + faces[1:]) + 0.5
        cap_share[c] = in_cap
    mass = float(np.sum(plan * np.sum(fixed[:, SOLIDS] + state[WATER] + state[FAT], axis=1)))
    # A cap of other density than the lean moves the mass a little; the surface takes it up.
    plan *= piece.mass_kg / mass
    lateral = _lateral(sections, fixed, plan)
    shape = Shape(fixed, face, plan, lateral)
    core, probes, names = _regions(sections, cells)
    column_m = np.array([section.long_m for section in sections])
    return Body(shape, state, piece.mass_kg, core, probes, names, cap_share, cut, column_m)


def _fill(
    fixed: FloatArray,
    state: FloatArray,
    volume: FloatArray,
    in_cap: FloatArray,
    flesh: Flesh,
    cut: Cut,
    constants: Constants,
    table: FloatArray,
    piece: Piece,
) -> None:
    """Set masses per m² of one side and heat content of a column's cells."""
    amounts = np.zeros((3, volume.size))
    for part, share in ((flesh, 1.0 - in_cap), (cut.cap_flesh, in_cap)):
        density = 1.0 / _volume_per_kg(part, piece.start_c, constants)
        amounts += np.outer(part.parts(constants.ash_of_protein), share * volume * density)
    fixed[SOLIDS], fixed[RAW_WATER] = amounts[0], amounts[1]
    fixed[RENDERS] = in_cap + (1.0 - in_cap) * constants.lean_render_factor
    place = (piece.start_c - LOW_C) / STEP_K
    row = int(place)
    mixed = table[row] + (place - row) * (table[row + 1] - table[row])
    state[WATER], state[FAT], state[HOLDS] = amounts[1], amounts[2], 1.0
    state[HEAT] = amounts[0] * mixed[H_S] + amounts[1] * mixed[H_W] + amounts[2] * mixed[H_F]


def _lateral(sections: list[_Section], fixed: FloatArray, plan: FloatArray) -> FloatArray:
    """Return cross-section over distance (m) between neighbouring columns, layer by layer."""
    columns, cells = plan.size, fixed.shape[2]
    lateral = np.zeros((max(columns - 1, 0), cells))
    layer = fixed[:, RAW_WATER] / np.sum(fixed[:, RAW_WATER], axis=1, keepdims=True)
    for c in range(columns - 1):
        one = layer[c] * sections[c].volume_m3 / sections[c].long_m
        two = layer[c + 1] * sections[c + 1].volume_m3 / sections[c + 1].long_m
        apart = 0.5 * (sections[c].long_m + sections[c + 1].long_m)
        lateral[c] = 0.5 * (one + two) / apart
    return lateral


def _regions(
    sections: list[_Section], cells: int
) -> tuple[FloatArray, FloatArray, tuple[str, ...]]:
    """Return the core's cells and the probes: thick part, middle, thin part, under the surface."""
    columns, centre = len(sections), cells // 2
    reach = max(1, cells // 6)
    rows = range(centre - reach, centre + reach + 1)
    if columns == 1:
        core = [(0, i) for i in rows]
        probes = [(0, centre), (0, 2), (0, cells - 3)]
        names: tuple[str, ...] = ("thick", "top", "underside")
    else:
        thick, thin = columns // 4, columns - 1 - columns // 6
        core = [(c, i) for c in range(1, max(2, columns // 2)) for i in rows]
        probes = [(thick, centre), (columns // 2, centre), (thin, centre)]
        probes += [(thick, 2), (thick, cells - 3)]
        names = ("thick", "middle", "thin", "top", "underside")
    return np.array(core, dtype=float), np.array(probes, dtype=float), names
