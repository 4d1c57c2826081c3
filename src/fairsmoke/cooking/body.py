"""From what a cook can measure on a piece to columns of cells that the solver works on."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fairsmoke.cooking.cells import AREA, FIXED, MARBLED, PLACE, RAW_WATER, RENDERS, SOLIDS
from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.cuts import CUTS, Cut, Flesh
from fairsmoke.cooking.outline import Outline, TissueColumn, columns_of, core_curvature
from fairsmoke.cooking.stepping import ACTIN_IN, FAT, HEAT, HOLDS, MYOSIN_IN, STATE, WATER, Shape
from fairsmoke.cooking.tables import H_F, H_S, H_W, LOW_C, ROWS, STEP_K, V_F, V_S, V_W, build
from fairsmoke.messages.errors import InputError
from fairsmoke.physics.ranges import FloatArray

CELLS = 25
ROUNDED_CELLS = 19
# Columns along the length and across half the width, by how the sides of a cut are.
GRID = {"slab": (1, 1), "bar": (1, 1), "box": (17, 9), "rounded": (8, 3)}
# How much finer the cells are at the surface than in the middle (β of the tanh spacing).
STRETCH = 1.5
# How much of its tapered box a rounded piece fills at most.
_FULLEST = 0.95
COLDEST_START_C, HOTTEST_START_C = -1.5, 60.0


class BodyError(InputError):
    """What was measured on a piece cannot be; the message says what to measure again."""


@dataclass(frozen=True)
class MeasuredPiece:
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
    """A piece cut into cells: the solver's shape and starting state, and where its regions are.

    `strip_m`: width of each strip, both halves of the piece together, from the middle outwards.
    """

    shape: Shape
    state: FloatArray
    start_kg: float
    core: FloatArray
    probes: FloatArray
    probe_names: tuple[str, ...]
    cap: FloatArray
    cut: Cut
    strip_m: FloatArray


def one_column(piece: MeasuredPiece, constants: Constants = DEFAULT, cells: int = CELLS) -> Body:
    """Return the reduced body: one column through the thick part.

    Its curvature is chosen so that the core warms as the piece's does, and it keeps thickness and
    mass (outline.core_curvature). Edges and thin ends are not in it: losses are those of the
    thick part.
    """
    outline, flesh = _checked(piece, constants)
    curvature = core_curvature(outline)
    # The surface that goes with thickness, mass and curvature; less than the piece's own where
    # edges and thin ends add some.
    surface = (curvature + 1.0) * outline.volume_m3 / (0.5 * piece.thick_m)
    whole = TissueColumn(
        piece.thick_m, outline.volume_m3, surface, 0.0, 1.0, piece.length_m, piece.width_m, 0.0, 0.0
    )
    return _assemble(piece, outline, flesh, [whole], 1, constants, cells)


def two_dimensional(
    piece: MeasuredPiece,
    constants: Constants = DEFAULT,
    along: int | None = None,
    across: int | None = None,
    cells: int | None = None,
) -> Body:
    """Return the body as a grid of columns, from the thick to the thin end and middle to edge.

    The two halves of the width are alike and stand as one.
    """
    outline, flesh = _checked(piece, constants)
    usual = GRID[outline.cut.sides]
    strips = across or usual[1]
    columns = columns_of(outline, along or usual[0], strips)
    if cells is None:
        cells = ROUNDED_CELLS if outline.cut.sides == "rounded" else CELLS
    return _assemble(piece, outline, flesh, columns, strips, constants, cells)


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


def _checked(piece: MeasuredPiece, constants: Constants) -> tuple[Outline, Flesh]:
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
    thin = piece.thin_m if piece.thin_m is not None else cut.thin_share * piece.thick_m
    thin = min(thin, piece.thick_m)
    if piece.thin_m is None:
        # The mass outranks the cut's usual taper where both do not go together.
        least = 2.0 * volume / (_FULLEST * piece.length_m * piece.width_m) - piece.thick_m
        thin = min(piece.thick_m, max(thin, least))
    outline = Outline(piece.length_m, piece.width_m, piece.thick_m, thin, volume, cut)
    filled = volume / outline.box_m3
    if not 0.3 <= filled <= 1.1:
        raise BodyError(
            f"{piece.mass_kg:g} kg would fill {100 * filled:.0f} % of a box of the measured "
            "length, width and thickness; 40 to 100 % is usual. Measure again."
        )
    return outline, flesh


def _volume_per_kg(flesh: Flesh, temp_c: float, constants: Constants) -> float:
    solids, water, fat = flesh.parts(constants.ash_of_protein)
    table = build(constants)
    place = int((temp_c - LOW_C) / STEP_K)
    row = table[min(max(place, 0), ROWS - 1)]
    return float(solids * row[V_S] + water * row[V_W] + fat * row[V_F])


def _assemble(
    piece: MeasuredPiece,
    outline: Outline,
    flesh: Flesh,
    columns: list[TissueColumn],
    across: int,
    constants: Constants,
    cells: int,
) -> Body:
    if cells % 2 == 0 or cells < 5:
        raise BodyError(f"{cells} cells through the thickness: give an odd number, 5 or more.")
    cut, count = outline.cut, len(columns)
    table = build(constants, cut.species)
    faces = spacing(cells)
    fixed = np.zeros((count, FIXED, cells))
    face, plan = np.zeros((count, cells + 1)), np.zeros(count)
    state, cap_share = np.zeros((STATE, count, cells)), np.zeros((count, cells))
    cap_m = piece.cap_m if piece.cap_m is not None else cut.cap_m
    for c, column in enumerate(columns):
        half = column.thick_m / 2.0
        curvature = max(0.0, half * column.surface_m2 / column.volume_m3 - 1.0)
        face[c], area, volume = curved(faces, min(curvature, 2.0))
        plan[c] = column.volume_m3 / (half * float(np.sum(volume)))
        depth = half * (faces + 1.0)
        in_cap = np.clip((cap_m - depth[:-1]) / np.diff(depth), 0.0, 1.0)
        _fill(fixed[c], state[:, c], half * volume, in_cap, flesh, cut, constants, table, piece)
        fixed[c, AREA] = area
        fixed[c, PLACE] = 0.25 * (faces[:-1] + faces[1:]) + 0.5
        cap_share[c] = in_cap
    mass = float(np.sum(plan * np.sum(fixed[:, SOLIDS] + state[WATER] + state[FAT], axis=1)))
    # A cap of other density than the lean moves the mass a little; the surface takes it up.
    plan *= piece.mass_kg / mass
    # Layers follow each column's thickness.
    layer = np.repeat(np.diff(faces)[None] / 2.0, count, axis=0)
    rim = layer * np.array([c.rim_m2 for c in columns])[:, None] / plan[:, None]
    reach = np.array([column.rim_half_m for column in columns])
    shape = Shape(fixed, face, plan, _lateral(columns, layer, across), rim, reach, across)
    core, probes, names = _regions(count // across, across, cells)
    strip_m = np.array([column.wide_m for column in columns[:across]])
    return Body(shape, state, piece.mass_kg, core, probes, names, cap_share, cut, strip_m)


def _fill(
    fixed: FloatArray,
    state: FloatArray,
    volume: FloatArray,
    in_cap: FloatArray,
    flesh: Flesh,
    cut: Cut,
    constants: Constants,
    table: FloatArray,
    piece: MeasuredPiece,
) -> None:
    """Set masses per m² of one side and heat content of a column's cells."""
    amounts, fats = np.zeros((3, volume.size)), []
    for part, share in ((flesh, 1.0 - in_cap), (cut.cap_flesh, in_cap)):
        density = 1.0 / _volume_per_kg(part, piece.start_c, constants)
        parts = np.outer(part.parts(constants.ash_of_protein), share * volume * density)
        amounts += parts
        fats.append(parts[2])
    seam, cap = flesh.seam_share * fats[0], fats[1]
    fixed[SOLIDS], fixed[RAW_WATER] = amounts[0], amounts[1]
    fixed[MARBLED] = fats[0] - seam
    loose = np.maximum(seam + cap, 1e-12)
    fixed[RENDERS] = (cap + constants.seam_render_factor * seam) / loose
    place = (piece.start_c - LOW_C) / STEP_K
    row = int(place)
    mixed = table[row] + (place - row) * (table[row + 1] - table[row])
    state[WATER], state[FAT] = amounts[1], amounts[2]
    state[[HOLDS, MYOSIN_IN, ACTIN_IN]] = 1.0
    state[HEAT] = amounts[0] * mixed[H_S] + amounts[1] * mixed[H_W] + amounts[2] * mixed[H_F]


def _lateral(columns: list[TissueColumn], layer: FloatArray, across: int) -> FloatArray:
    """Return cross-section over distance (m) to the next column along (0) and across (1)."""
    count = len(columns)
    lateral = np.zeros((2, count, layer.shape[1]))
    for c, one in enumerate(columns):
        if c + across < count:
            two = columns[c + across]
            section = 0.5 * (one.volume_m3 / one.long_m + two.volume_m3 / two.long_m)
            lateral[0, c] = section * layer[c] / (two.at_m - one.at_m)
        if (c + 1) % across:
            two = columns[c + 1]
            # Both halves of the width: two such faces side by side.
            section = 2.0 * one.volume_m3 / one.wide_m
            section = 0.5 * (section + 2.0 * two.volume_m3 / two.wide_m)
            lateral[1, c] = section * layer[c] / (two.across_m - one.across_m)
    return lateral


def _regions(along: int, across: int, cells: int) -> tuple[FloatArray, FloatArray, tuple[str, ...]]:
    """Return the core's cells and the probes: thick part, middle, thin part, under the surfaces, at
    a quarter of the depth.
    """
    centre = cells // 2
    reach = max(1, cells // 6)
    rows = range(centre - reach, centre + reach + 1)
    quarter = int(np.argmin(np.abs(spacing(cells) + 0.5)))
    if along * across == 1:
        core = [(0, i) for i in rows]
        probes = [(0, centre), (0, 2), (0, cells - 3), (0, quarter)]
        names: tuple[str, ...] = ("thick", "top", "underside", "quarter")
    else:
        thick, thin = across * (along // 4), across * (along - 1 - along // 6)
        first = range(along // 6, max(along // 6 + 1, (along + 1) // 2))
        core = [(a * across, i) for a in first for i in rows]
        probes = [(thick, centre), (across * (along // 2), centre), (thin, centre)]
        probes += [(thick, 2), (thick, cells - 3), (thick, quarter)]
        names = ("thick", "middle", "thin", "top", "underside", "quarter")
    return np.array(core, dtype=float), np.array(probes, dtype=float), names
