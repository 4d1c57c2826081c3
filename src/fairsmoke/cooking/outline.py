"""The outline of a piece: how thick, how wide and how rounded it is, cut into columns."""

from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking.cuts import Cut
from fairsmoke.physics.ranges import FloatArray

# How square the plan of a rounded piece is: |x|^q + |y|^q = 1.
_PLAN_POWER = 5.0
_POINTS = 401
# The grid whose middle strip gives the reduced column its curvature.
_ALONG, _STRIPS = 8, 3
# A box of slices conducts to its core this much less than a ball or round bar of the same widths.
_BOX_SHARE, _ROUND_FILL = 0.66, np.pi / 4


@dataclass(frozen=True)
class TissueColumn:
    """One column: thickness, volume, open surface above and below together, rim and its reach.

    `long_m` and `wide_m` are its size along the length and across (both halves of the piece
    together); `at_m` and `across_m` where its middle is from the thick end and from the middle.
    """

    thick_m: float
    volume_m3: float
    surface_m2: float
    rim_m2: float
    rim_half_m: float
    long_m: float
    wide_m: float
    at_m: float
    across_m: float


@dataclass(frozen=True)
class Outline:
    """What was measured, brought to one volume: length, width, thickness at both ends, fill."""

    length_m: float
    width_m: float
    thick_m: float
    thin_m: float
    volume_m3: float
    cut: Cut

    @property
    def box_m3(self) -> float:
        """Volume of the box of these measures, tapered."""
        return self.length_m * self.width_m * 0.5 * (self.thick_m + self.thin_m)


def columns_of(outline: Outline, along: int, across: int) -> list[TissueColumn]:
    """Return the columns of a piece, strip by strip from its thick end; volumes add up to its own.

    Slabs, bars and boxes keep their thickness to the edge; other cuts are rounded across.
    """
    square = outline.cut.sides != "rounded"
    open_sides = outline.cut.sides == "box"
    ends = _graded(along) if open_sides else np.linspace(0.0, 1.0, along + 1)
    strips = _half_graded(across) if open_sides else _towards_edge(across)
    filled = outline.volume_m3 / outline.box_m3
    plan_fill = 1.0 if square else float(np.mean(_plan(np.linspace(-1.0, 1.0, _POINTS))))
    power = np.inf if square else _section_power(min(max(filled / plan_fill, 0.55), 0.98))
    columns = [
        _column(outline, ends, strips, a, s, power, square, open_sides)
        for a in range(along)
        for s in range(across)
    ]
    scale = outline.volume_m3 / sum(column.volume_m3 for column in columns)
    return [_widened(column, scale) for column in columns]


def core_curvature(outline: Outline) -> float:
    """Return the curvature of a column whose core warms about as the thick part's does.

    0.66 (β₁⁻² + β₂⁻²) for a box, with β the other half-widths over half the thickness, fitted here
    to exact boxes of β 1 to 5 (error of the core below 5 % of the span); 1 for a round bar and 2
    for a ball, which are exact. A rounded cut gets the surface that its middle strip has for its
    volume in the thicker half, where the core lies: so the rim's share of heat and of evaporation
    is in the column. Five shapes of 1.4 to 5.6 kg, bare at 121 °C, then come to 40 to 88 °C within
    −10 to +6 % of the whole body's time (a small chuck 16 % late at the end).
    """
    if outline.cut.sides == "slab":
        return 0.0
    if outline.cut.sides == "rounded":
        return _middle_curvature(outline)
    filled = min(outline.volume_m3 / outline.box_m3, 1.0)
    rounded = min(1.0, (1.0 - filled) / (1.0 - _ROUND_FILL))
    share = _BOX_SHARE + (1.0 - _BOX_SHARE) * rounded
    across = (outline.thick_m / outline.width_m) ** 2
    along = 0.0 if outline.cut.sides == "bar" else (outline.thick_m / outline.length_m) ** 2
    if outline.cut.sides == "bar":
        share = 1.0
    return float(min(2.0, share * (min(across, 1.0) + min(along, 1.0))))


def _middle_curvature(outline: Outline) -> float:
    strips = _towards_edge(_STRIPS)
    ends = np.linspace(0.0, 1.0, _ALONG + 1)
    filled = outline.volume_m3 / outline.box_m3 / float(np.mean(_plan(np.linspace(-1, 1, _POINTS))))
    power = _section_power(min(max(filled, 0.55), 0.98))
    middle = [_column(outline, ends, strips, a, 0, power, False, False) for a in range(_ALONG // 2)]
    per_volume = sum(c.surface_m2 for c in middle) / sum(c.volume_m3 for c in middle)
    return min(2.0, max(0.0, 0.5 * outline.thick_m * per_volume - 1.0))


def _graded(count: int) -> FloatArray:
    even = np.linspace(-1.0, 1.0, count + 1)
    return np.asarray(0.5 + 0.5 * np.tanh(1.2 * even) / np.tanh(1.2))


def _half_graded(count: int) -> FloatArray:
    even = np.linspace(0.0, 1.0, count + 1)
    return np.asarray(np.tanh(1.2 * even) / np.tanh(1.2))


def _towards_edge(count: int) -> FloatArray:
    return np.asarray(1.0 - (1.0 - np.arange(count + 1) / count) ** 1.6)


def _plan(place: FloatArray) -> FloatArray:
    """Return the width of a rounded piece at a place along it (−1 to 1), as a share."""
    return np.asarray((1.0 - np.abs(place) ** _PLAN_POWER) ** (1.0 / _PLAN_POWER))


def _profile(place: FloatArray, power: float) -> FloatArray:
    """Return the thickness at a place across a section (0 middle, 1 edge), as a share."""
    if np.isinf(power):
        return np.ones_like(place)
    return np.asarray((1.0 - place**power) ** (1.0 / power))


def _section_power(filled: float) -> float:
    """Return the power of the rounded section that fills this share of its box."""
    place = (np.arange(_POINTS) + 0.5) / _POINTS
    low, high = 1.0, 60.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        if float(np.mean(_profile(place, middle))) < filled:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _column(
    outline: Outline,
    ends: FloatArray,
    strips: FloatArray,
    a: int,
    s: int,
    power: float,
    square: bool,
    open_sides: bool,
) -> TissueColumn:
    middle = 0.5 * (ends[a] + ends[a + 1])
    full = outline.thick_m + (outline.thin_m - outline.thick_m) * middle
    long = outline.length_m * (ends[a + 1] - ends[a])
    width = outline.width_m
    if not square:
        within = np.linspace(ends[a], ends[a + 1], 41) * 2.0 - 1.0
        width *= float(np.mean(_plan(within)))
    place = np.linspace(strips[s], strips[s + 1], _POINTS)
    height = full * _profile(place, power)
    wide = width * (strips[s + 1] - strips[s])
    thick = float(np.mean(0.5 * (height[1:] + height[:-1])))
    arc = float(np.sum(np.hypot(0.5 * width * np.diff(place), 0.5 * np.diff(height))))
    # Above and below, both halves of the width.
    surface = 4.0 * arc * long
    rims: list[tuple[float, float]] = []
    last_a, last_s = a in (0, ends.size - 2), s == strips.size - 2
    if open_sides and last_a:
        rims.append((wide * thick * (2.0 if ends.size == 2 else 1.0), 0.5 * long))
    if open_sides and last_s:
        rims.append((2.0 * long * thick, 0.25 * wide))
    if not open_sides and not square and last_a:
        surface += wide * thick
    rim = sum(area for area, _ in rims)
    conducts = sum(area / reach for area, reach in rims)
    return TissueColumn(
        thick_m=thick,
        volume_m3=wide * long * thick,
        surface_m2=surface,
        rim_m2=rim,
        rim_half_m=rim / conducts if rims else 1.0,
        long_m=float(long),
        wide_m=float(wide),
        at_m=float(outline.length_m * middle),
        across_m=float(0.25 * outline.width_m * (strips[s] + strips[s + 1])),
    )


def _widened(column: TissueColumn, scale: float) -> TissueColumn:
    """Return the column with its width brought to the volume that the mass asks for."""
    return TissueColumn(
        column.thick_m,
        column.volume_m3 * scale,
        column.surface_m2 * scale,
        column.rim_m2,
        column.rim_half_m,
        column.long_m,
        column.wide_m * scale,
        column.at_m,
        column.across_m * scale,
    )
