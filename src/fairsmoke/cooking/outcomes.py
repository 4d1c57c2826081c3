"""What came of a cook, by region: times, where the mass went, collagen, fat, crust, safety."""

from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking.body import Body
from fairsmoke.cooking.cells import RAW_WATER, SOLIDS
from fairsmoke.cooking.changes import LOG_A, LOG_B, NATIVE, OPENED
from fairsmoke.cooking.cook_record import (
    ADDED,
    CORE_C,
    DENATURED_J,
    DRIPPED,
    END_S,
    EVAPORATED,
    FAT_ADDED,
    FAT_AWAY,
    GROWTH_S,
    HEAT_IN_J,
    HEAT_OUT_J,
    PEAK_C,
    POOL,
    POOL_FAT,
    REFUSED,
    RENDERED,
    STEPS,
    Book,
)
from fairsmoke.cooking.crust import dried_kg_m2
from fairsmoke.cooking.stepping import FAT, HEAT, WATER
from fairsmoke.physics.kinetics import SOLUBLE_RAW
from fairsmoke.physics.ranges import BoolArray, FloatArray
from fairsmoke.trial.protocol import Protocol


@dataclass(frozen=True)
class TissueRegion:
    """One part of the piece: water per protein-rich dry matter (kg/kg), collagen dissolved and
    still native (shares), fat left of the raw fat (share), least log reductions in it.
    """

    name: str
    water_per_solids: float
    collagen_dissolved: float
    collagen_native: float
    fat_left: float
    log_salmonella: float
    log_listeria: float


@dataclass(frozen=True, eq=False)
class SimulatedTrace:
    """Samples over the cook: time (s), probes (°C) by name, surfaces, air, losses (kg)."""

    time_s: FloatArray
    probe_c: dict[str, FloatArray]
    top_c: FloatArray
    underside_c: FloatArray
    air_c: FloatArray
    evaporated_kg: FloatArray
    dripped_kg: FloatArray
    rendered_kg: FloatArray


@dataclass(frozen=True, eq=False)
class Outcome:
    """What came of one cook; masses in kg, shares of the raw mass, times in s since the start.

    `yield_share` = retained meat over raw meat; evaporated, dripped, rendered and in_wrap (juice)
    make up the rest, less the liquid added. Added fat never counts as meat: `rendered_kg` is
    the piece's own fat that has left it, `added_fat_kg` what was laid on, `fat_in_wrap_kg` what of
    both is still in the wrap; the rest of both has run away. `crust_top_kg_m2` and
    `crust_underside_kg_m2` are how much dry matter has dried to a crust (fairsmoke.cooking.crust).
    """

    start_kg: float
    retained_kg: float
    evaporated_kg: float
    dripped_kg: float
    rendered_kg: float
    in_wrap_kg: float
    added_kg: float
    added_fat_kg: float
    fat_in_wrap_kg: float
    solids_kg: float
    water_kg: float
    fat_kg: float
    raw_water_kg: float
    end_s: float
    core_c: float
    stage_end_s: dict[str, float]
    mark_s: dict[float, float]
    regions: dict[str, TissueRegion]
    cap_rendered: float
    crust_top_kg_m2: float
    crust_underside_kg_m2: float
    growth_s: float
    peak_c: float
    trace: SimulatedTrace
    heat_gap_j: float
    heat_in_j: float
    mass_gap_kg: float
    steps: int
    refused: int

    @property
    def yield_share(self) -> float:
        """Meat kept over raw meat."""
        return self.retained_kg / self.start_kg

    @property
    def text(self) -> str:
        """A few lines for people."""
        whole = self.regions["whole"]
        return (
            f"{self.end_s / 3600:.1f} h, core {self.core_c:.0f} °C; keeps "
            f"{100 * self.yield_share:.0f} % (evaporated "
            f"{100 * self.evaporated_kg / self.start_kg:.0f}, dripped "
            f"{100 * self.dripped_kg / self.start_kg:.0f}, rendered "
            f"{100 * self.rendered_kg / self.start_kg:.0f}, in the wrap "
            f"{100 * self.in_wrap_kg / self.start_kg:.0f} %{self._fat_text}); collagen dissolved "
            f"{100 * whole.collagen_dissolved:.0f} %, cap rendered {100 * self.cap_rendered:.0f} %"
        )

    @property
    def _fat_text(self) -> str:
        if self.fat_in_wrap_kg < 0.0005:
            return ""
        added = f", {1000 * self.added_fat_kg:.0f} g added" if self.added_fat_kg else ""
        return f", with {1000 * self.fat_in_wrap_kg:.0f} g of fat{added}"


def gather(
    body: Body, state: FloatArray, changes: FloatArray, book: Book, protocol: Protocol
) -> Outcome:
    """Return the outcome of a finished cook."""
    plan = body.shape.plan_m2[:, None]
    solids = plan * body.shape.fixed[:, SOLIDS]
    solids_kg, water_kg, fat_kg = (
        float(np.sum(part)) for part in (solids, plan * state[WATER], plan * state[FAT])
    )
    kept = solids_kg + water_kg + fat_kg
    result, other = book.result, book.other
    fat_out = result[POOL_FAT] + result[FAT_AWAY] - result[FAT_ADDED]
    lost = result[EVAPORATED] + result[DRIPPED] + result[POOL] - result[ADDED] + fat_out
    start_heat = float(np.sum(plan * body.state[HEAT]))
    end_heat = float(np.sum(plan * state[HEAT]))
    flows = result[HEAT_IN_J] - result[HEAT_OUT_J] - result[DENATURED_J]
    raw_fat, fat = plan * body.state[FAT] * body.cap, plan * state[FAT] * body.cap
    cap = float(np.sum(raw_fat))
    return Outcome(
        start_kg=body.start_kg,
        retained_kg=kept,
        evaporated_kg=float(result[EVAPORATED]),
        dripped_kg=float(result[DRIPPED]),
        rendered_kg=float(result[RENDERED]),
        in_wrap_kg=float(result[POOL]),
        added_kg=float(result[ADDED]),
        added_fat_kg=float(result[FAT_ADDED]),
        fat_in_wrap_kg=float(result[POOL_FAT]),
        solids_kg=solids_kg,
        water_kg=water_kg,
        fat_kg=fat_kg,
        raw_water_kg=float(np.sum(plan * body.shape.fixed[:, RAW_WATER])),
        end_s=float(other[END_S]),
        core_c=float(other[CORE_C]),
        stage_end_s={
            stage.id: float(t) for stage, t in zip(protocol.stages, book.stage_end_s, strict=True)
        },
        mark_s=dict(zip(book.mark_c.tolist(), book.mark_s.tolist(), strict=True)),
        regions=_regions(body, state, changes),
        cap_rendered=1.0 - float(np.sum(fat)) / cap if cap > 0 else float("nan"),
        crust_top_kg_m2=_crust(body, state, top=True),
        crust_underside_kg_m2=_crust(body, state, top=False),
        growth_s=float(other[GROWTH_S]),
        peak_c=float(other[PEAK_C]),
        trace=_trace(body, book),
        heat_gap_j=end_heat - start_heat - float(flows),
        heat_in_j=float(result[HEAT_IN_J]),
        mass_gap_kg=body.start_kg - kept - float(lost),
        steps=int(other[STEPS]),
        refused=int(other[REFUSED]),
    )


def _regions(body: Body, state: FloatArray, changes: FloatArray) -> dict[str, TissueRegion]:
    columns, cells = state.shape[1], state.shape[2]
    lean = body.cap < 0.5
    masks = {"whole": lean}
    if columns > 1:
        strips = body.shape.across
        half = (np.arange(columns) // strips)[:, None] < columns / strips / 2
        masks["thick half"], masks["thin half"] = lean & half, lean & ~half
    depth = np.minimum(np.arange(cells), np.arange(cells)[::-1])[None, :]
    masks["surface"] = np.broadcast_to(depth < 2, lean.shape)
    # The cells of which the coldest is the core's temperature: the middle of the thick half, as a
    # sample is cut for shear and collagen. Ends and edges are hotter at the same depth.
    core = np.zeros_like(lean)
    core[body.core[:, 0].astype(int), body.core[:, 1].astype(int)] = True
    masks["core"] = core
    return {name: _region(name, mask, body, state, changes) for name, mask in masks.items()}


def _region(
    name: str, mask: BoolArray, body: Body, state: FloatArray, changes: FloatArray
) -> TissueRegion:
    weight = (body.shape.plan_m2[:, None] * mask) * body.shape.fixed[:, SOLIDS]
    total = float(np.sum(weight))
    plan = body.shape.plan_m2[:, None] * mask
    native = float(np.sum(weight * changes[NATIVE])) / total
    opened = float(np.sum(weight * changes[OPENED])) / total
    return TissueRegion(
        name=name,
        water_per_solids=float(np.sum(plan * state[WATER])) / total,
        collagen_dissolved=SOLUBLE_RAW + (1.0 - SOLUBLE_RAW) * (1.0 - native - opened),
        collagen_native=(1.0 - SOLUBLE_RAW) * native,
        fat_left=float(np.sum(plan * state[FAT]) / np.sum(plan * body.state[FAT])),
        log_salmonella=float(np.min(changes[LOG_A][mask])),
        log_listeria=float(np.min(changes[LOG_B][mask])),
    )


def _crust(body: Body, state: FloatArray, top: bool) -> float:
    """Return dried solids (kg/m²) at one surface, mean over the piece."""
    inward = slice(None) if top else slice(None, None, -1)
    solids = body.shape.fixed[:, SOLIDS, inward]
    each = dried_kg_m2(state[WATER][:, inward] / solids, solids)
    plan = body.shape.plan_m2
    return float(np.sum(each * plan) / np.sum(plan))


def _trace(body: Body, book: Book) -> SimulatedTrace:
    count = len(body.probe_names)
    columns = book.samples.T
    return SimulatedTrace(
        time_s=book.sample_s,
        probe_c={name: columns[k] for k, name in enumerate(body.probe_names)},
        top_c=columns[count],
        underside_c=columns[count + 1],
        air_c=columns[count + 2],
        evaporated_kg=columns[count + 3],
        dripped_kg=columns[count + 4],
        rendered_kg=columns[count + 5],
    )


__all__ = ["Outcome", "SimulatedTrace", "TissueRegion", "gather"]
