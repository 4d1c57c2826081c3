"""The solver against exact heat conduction: slab and long cylinder heated by convection.

Series solutions of Carslaw & Jaeger, Conduction of Heat in Solids (from memory; any textbook of
heat transfer prints them): slab ζ tan ζ = Bi, cylinder ζ J1(ζ) = Bi J0(ζ).
"""

from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from fairsmoke.cooking import body, changes, cook_kernel, stages, stepping, tables
from fairsmoke.cooking import cook_record as book_of
from fairsmoke.cooking.cells import AREA, FIXED, RAW_WATER, SOLIDS
from fairsmoke.cooking.constants import DEFAULT, PAR, parameters
from fairsmoke.cooking.stages import ROW
from fairsmoke.physics.ranges import FloatArray

K_W_MK, RHO_KG_M3, CP_J_KGK = 0.5, 1050.0, 3500.0
ALPHA = K_W_MK / (RHO_KG_M3 * CP_J_KGK)
AIR_C = 100.0


def constant_table() -> FloatArray:
    """A table in which every component conducts, weighs and warms alike and nothing reacts."""
    temp = np.linspace(tables.LOW_C, tables.HIGH_C, tables.ROWS)
    table = np.zeros((tables.ROWS, tables.COLUMNS))
    for part in range(3):
        table[:, tables.H_S + part] = CP_J_KGK * temp
        table[:, tables.V_S + part] = 1.0 / RHO_KG_M3
        table[:, tables.ACROSS_S + part] = 1.0 / (RHO_KG_M3 * K_W_MK)
        table[:, tables.ALONG_S + part] = K_W_MK / RHO_KG_M3
    table[:, tables.DIFFUSIVITY] = 1e-15
    table[:, tables.FAT_HELD] = 1e9
    table[:, tables.VAPOUR_PA] = 1.0
    table[:, tables.FIRMED] = 0.0
    table[:, [tables.MYOSIN, tables.ACTIN]] = 0.0
    return table


def heat_up(
    curvature: float,
    half_m: float,
    h: float,
    times_s: FloatArray | list[float],
    cells: int = body.CELLS,
    tol_k: float = 0.1,
    longest_s: float = 600.0,
) -> tuple[FloatArray, FloatArray]:
    """Temperatures at centre, top cell and quarter, and where these lie (share of half)."""
    faces = body.spacing(cells)
    face, area, volume = body.curved(faces, curvature)
    mass = RHO_KG_M3 * half_m * volume
    fixed = np.zeros((1, FIXED, cells))
    fixed[0, SOLIDS], fixed[0, RAW_WATER], fixed[0, AREA] = 0.25 * mass, 0.7 * mass, area
    state = np.zeros((stepping.STATE, 1, cells))
    state[stepping.WATER], state[stepping.FAT] = 0.7 * mass, 0.05 * mass
    state[stepping.HOLDS] = 1.0
    par = parameters(DEFAULT)
    par[[PAR.boil, PAR.drain]] = 0.0
    stage = np.zeros((1, stages.STAGE_LENGTH))
    stage[0, ROW.air_c] = AIR_C
    stage[0, [ROW.convection_above, ROW.convection_below]] = h
    stage[0, [ROW.resistance_above, ROW.resistance_below]] = 1e30
    stage[0, [ROW.gap_above, ROW.gap_below]] = 1.0
    stage[0, ROW.end_core_c], stage[0, ROW.end_clock_s] = 1e9, 1e12
    stage[0, ROW.end_elapsed_s] = times_s[-1]
    middle = cells // 2
    probes = np.array([(0, middle), (0, 0), (0, middle // 2)], dtype=float)
    book = book_of.make_book(1, np.zeros(0), np.asarray(times_s, dtype=float), 3)
    outcome = cook_kernel.cook(
        constant_table(),
        par,
        stepping.Shape(
            fixed,
            face[None],
            np.ones(1),
            np.zeros((2, 1, cells)),
            np.zeros((1, cells)),
            np.ones(1),
            1,
        ),
        probes[:1],
        probes,
        stage,
        np.zeros((3, 2)),
        np.zeros((0, 3)),
        np.array([101325.0, 0.0, 1e9]),
        np.array([tol_k, 0.01, longest_s, 1e6]),
        state,
        np.zeros((changes.CHANGES, 1, cells)),
        stepping.make_room(1, cells, 0.0),
        book,
    )
    assert outcome == cook_kernel.OK
    lie = [0.0] + [0.5 * (faces[i] + faces[i + 1]) for i in (0, middle // 2)]
    return book.samples[:, :3], np.array(lie)


def slab_left(
    xi: FloatArray | float, fourier: FloatArray, biot: float, terms: int = 60
) -> FloatArray:
    total: FloatArray = np.zeros_like(fourier)
    for k in range(terms):
        low = k * np.pi + 1e-12
        zeta = brentq(lambda z: z * np.sin(z) - biot * np.cos(z), low, low + np.pi / 2)
        size = 4 * np.sin(zeta) / (2 * zeta + np.sin(2 * zeta))
        total = total + size * np.exp(-(zeta**2) * fourier) * np.cos(zeta * xi)
    return total


def cylinder_left(
    xi: FloatArray | float, fourier: FloatArray, biot: float, terms: int = 60
) -> FloatArray:
    ends = np.concatenate([[0.0], jn_zeros(1, terms)])
    total: FloatArray = np.zeros_like(fourier)
    for k in range(terms):
        low, high = ends[k] + 1e-12, ends[k + 1] - 1e-12
        zeta = brentq(lambda z: z * j1(z) - biot * j0(z), low, high)
        size = 2 / zeta * j1(zeta) / (j0(zeta) ** 2 + j1(zeta) ** 2)
        total = total + size * np.exp(-(zeta**2) * fourier) * j0(zeta * np.abs(xi))
    return total


EXACT = {0.0: slab_left, 1.0: cylinder_left}


def error_share(curvature: float, half_m: float, h: float, **grid: Any) -> float:
    times = np.linspace(0.05, 2.5, 30) * half_m**2 / ALPHA
    found, lie = heat_up(curvature, half_m, h, times, **grid)
    left = EXACT[curvature](lie[None, :], (times * ALPHA / half_m**2)[:, None], h * half_m / K_W_MK)
    return float(np.max(np.abs(found / AIR_C - (1.0 - left))))


@pytest.mark.parametrize("curvature", [0.0, 1.0])
@pytest.mark.parametrize(("half_m", "h"), [(0.0375, 20.0), (0.05, 10.0), (0.03, 60.0)])
def test_default_grid_meets_series_within_a_fifth_of_a_percent(
    curvature: float, half_m: float, h: float
) -> None:
    assert error_share(curvature, half_m, h) < 0.002


@pytest.mark.parametrize("curvature", [0.0, 1.0])
def test_error_falls_with_the_square_of_the_cell(curvature: float) -> None:
    errors = [error_share(curvature, 0.0375, 20.0, cells=n, tol_k=1e-3) for n in (9, 17, 33)]
    orders = np.log(np.array(errors[:-1]) / errors[1:]) / np.log([17 / 9, 33 / 17])
    assert np.all(orders > 1.8)
    assert errors[-1] < 6e-4


def test_error_falls_with_the_square_of_the_step() -> None:
    def end(longest_s: float) -> FloatArray:
        found, _ = heat_up(0.0, 0.0375, 20.0, [8000.0], tol_k=1e9, longest_s=longest_s)
        last: FloatArray = found[0]
        return last

    finest = end(2.0)
    errors = [np.max(np.abs(end(step) - finest)) for step in (400.0, 200.0, 100.0)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(orders > 1.7)
    assert errors[-1] < 1e-3


@pytest.mark.parametrize(
    ("half_m", "h", "hours"), [(0.030, 20.0, 1.91), (0.050, 20.0, 4.02), (0.050, 500.0, 2.12)]
)
def test_textbook_slabs_to_60_c_in_107_c_air(half_m: float, h: float, hours: float) -> None:
    """First-term answers worked out in references/physics.md 4.4: 5 to 60 °C, α 1.4e-7."""
    scale = 1.4e-7 / ALPHA
    times = np.arange(0.5, 4.5, 0.01) * 3600.0 * scale
    found, _ = heat_up(0.0, half_m, h, times)
    reached = np.interp((60.0 - 5.0) / (107.0 - 5.0) * AIR_C, found[:, 0], times) / scale
    assert reached / 3600.0 == pytest.approx(hours, rel=0.01)


def box_left(
    size_m: tuple[float, float, float], h: float, times_s: FloatArray, across_m: float
) -> FloatArray:
    """Excess left in the middle plane `across_m` off the axis of a box: the product of slabs."""
    left: FloatArray = np.ones_like(times_s)
    for full, off in zip(size_m, (0.0, across_m, 0.0), strict=True):
        half = full / 2.0
        left = left * slab_left(off / half, ALPHA * times_s / half**2, h * half / K_W_MK)
    return left


def heat_box(
    size_m: tuple[float, float, float],
    h: float,
    times_s: FloatArray,
    along: int | None = None,
    across: int | None = None,
) -> tuple[FloatArray, float]:
    """Core temperatures of the solver's own brick with constant properties."""
    length, width, thick = size_m
    piece = body.MeasuredPiece(
        "brick", 1050.0 * length * width * thick, length, width, thick, thick
    )
    made = body.two_dimensional(piece, along=along, across=across)
    volume = made.shape.fixed[:, AREA] * np.diff(body.spacing(body.CELLS)) * thick / 2.0
    mass = RHO_KG_M3 * volume
    fixed = made.shape.fixed.copy()
    fixed[:, SOLIDS], fixed[:, RAW_WATER] = 0.25 * mass, 0.7 * mass
    columns = mass.shape[0]
    state = np.zeros((stepping.STATE, columns, body.CELLS))
    state[stepping.WATER], state[stepping.FAT], state[stepping.HOLDS] = 0.7 * mass, 0.05 * mass, 1
    plan = made.shape.plan_m2 * length * width / np.sum(made.shape.plan_m2)
    rim = made.shape.rim * (made.shape.plan_m2 / plan)[:, None]
    par = parameters(DEFAULT)
    par[[PAR.boil, PAR.drain]] = 0.0
    stage = np.zeros((1, stages.STAGE_LENGTH))
    stage[0, ROW.air_c] = AIR_C
    stage[0, [ROW.convection_above, ROW.convection_below]] = h
    stage[0, [ROW.resistance_above, ROW.resistance_below]] = 1e30
    stage[0, [ROW.gap_above, ROW.gap_below]] = 1.0
    stage[0, ROW.end_core_c], stage[0, ROW.end_clock_s] = 1e9, 1e12
    stage[0, ROW.end_elapsed_s] = times_s[-1]
    strips = made.shape.across
    assert (columns // strips) % 2
    probes = np.array([(strips * (columns // strips // 2), body.CELLS // 2)], dtype=float)
    book = book_of.make_book(1, np.zeros(0), times_s, 1)
    outcome = cook_kernel.cook(
        constant_table(),
        par,
        made.shape._replace(fixed=fixed, plan_m2=plan, rim=rim),
        probes,
        probes,
        stage,
        np.zeros((3, 2)),
        np.zeros((0, 3)),
        np.array([101325.0, 0.0, 1e9]),
        np.array([0.1, 0.01, 600.0, 1e6]),
        state,
        np.zeros((changes.CHANGES, columns, body.CELLS)),
        stepping.make_room(columns, body.CELLS, 0.0, True),
        book,
    )
    assert outcome == cook_kernel.OK
    return book.samples[:, 0], 0.25 * made.strip_m[0]


BOXES = [(0.40, 0.28, 0.08), (0.10, 0.08, 0.06), (0.12, 0.12, 0.12), (0.20, 0.12, 0.10)]


@pytest.mark.parametrize("size_m", BOXES)
@pytest.mark.parametrize("h", [10.0, 20.0])
def test_brick_meets_the_product_of_three_slabs(
    size_m: tuple[float, float, float], h: float
) -> None:
    times = np.linspace(0.05, 2.0, 30) * (size_m[2] / 2.0) ** 2 / ALPHA
    found, off = heat_box(size_m, h, times)
    assert np.max(np.abs(found / AIR_C - (1.0 - box_left(size_m, h, times, off)))) < 0.002
