"""Leaving a field of a record out never makes a verdict surer.

Which fields there are is read off the records themselves, and a value is found for each, so that a
field that is added is looked at from then on. Every record of a whole trial is judged with the
field said and with it left out; the interval without it may not be narrower.
"""

import math
import types
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, replace
from datetime import datetime, timedelta
from enum import StrEnum
from functools import cache
from itertools import product
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

import numpy as np
import pytest
from pydantic import ValidationError
from tests.judging.records import LIKING, MADE, SHEAR, TIME, YIELD, record_of

from fairsmoke.judging import judge as judge_module
from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.deviations import first_result
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.judge import judge
from fairsmoke.judging.priors import FloatArray, Priors
from fairsmoke.judging.responses import Responses, responses_of
from fairsmoke.judging.waiting import waiting_of
from fairsmoke.judging.who_got_what import whole_cooks_of
from fairsmoke.trial.base import Id, Record
from fairsmoke.trial.cook import Event, EventKind, Piece, Spot
from fairsmoke.trial.figure import Exclusion, Figure
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.question import Measure, Trial
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.record_parts import RecordParts
from fairsmoke.trial.tasting import Ballot, Sample, Score, Taster
from fairsmoke.trial.weighing import Part, PartEstimate, Scale, Weighing
from fairsmoke.weighing import PartSolved, solve_what_can_be

TOLERANCE = 0.005
"""Of a width: rounding, and what a value that moved does to its level."""


BARK = SHEAR.model_copy(update={"id": "bark", "name": "Bark", "unit": "mm"})
"""A measure of which no study is kept."""


@cache
def whole_record() -> TrialRecord:
    """Four pairs of which everything was recorded, favourably: coded, balanced, sides in turn."""
    measures = (YIELD, SHEAR, BARK, LIKING, TIME)
    rng = np.random.default_rng(4)
    record = record_of([(0.58 + a, 0.62 + b) for a, b in rng.normal(0, 0.015, (4, 2))], measures)
    at = {cook.id: cook.starts for cook in record.cooks}
    figures = tuple(
        Figure(
            id=f"{measure}-{piece.id}",
            piece=piece.id,
            measure=measure,
            value=round(4.0 - (piece.arm == "paper") + rng.normal(0, 0.5), 2),
            uncertainty=0.2,
        )
        for piece in record.units
        for measure in ("shear", "bark")
    )
    events = tuple(
        Event(
            id=f"{piece.id}-{kind.value}",
            cook=piece.cook or "",
            at=at[piece.cook or ""] + timedelta(hours=hours, minutes=round(rng.normal(0, 20))),
            kind=kind,
            pieces=(piece.id,),
        )
        for piece in record.units
        for kind, hours in ((EventKind.ON, 1), (EventKind.PULL, 12 - (piece.arm == "paper")))
    )
    tasters = tuple(Taster(id=f"t{i}", name=f"T{i}") for i in range(6))
    samples = tuple(
        Sample(id=f"s-{piece.id}", piece=piece.id, code=101 + i)
        for i, piece in enumerate(record.units)
    )
    ballots = []
    for i, taster in enumerate(tasters):
        for cook in record.cooks:
            pair = [f"s-{cook.id}-bare", f"s-{cook.id}-paper"]
            ballots.append(
                Ballot(
                    id=f"b-{taster.id}-{cook.id}",
                    taster=taster.id,
                    cook=cook.id,
                    measure="liking",
                    presented=tuple(pair if i % 2 else pair[::-1]),
                    scores=tuple(
                        Score(sample=one, value=round(5 + j + rng.normal(0, 0.6), 1))
                        for j, one in enumerate(pair)
                    ),
                )
            )
    estimates = tuple(
        PartEstimate(
            id=f"e-{piece.id}",
            piece=piece.id,
            part=Part.parse("clinging fat"),
            low_kg=0.0,
            high_kg=0.1,
            best_kg=0.06,
            shape="triangular",
            why="looked",
        )
        for piece in record.units
    )
    cook_of = {piece.id: piece.cook or "" for piece in record.pieces}
    weighings = tuple(
        weighing.model_copy(
            update={
                "sum": (*weighing.sum, Part.parse("clinging fat")) if cooked else weighing.sum,
                "cook": cook_of[weighing.piece or ""],
                "at": at[cook_of[weighing.piece or ""]] + timedelta(hours=14 if cooked else -1),
            }
        )
        for weighing in record.weighings
        for cooked in (weighing.sum[0].label == "cooked",)
    )
    probe = Probe(id="core", name="Core")
    placements = tuple(
        Placement(
            id=f"p-{cook.id}",
            cook=cook.id,
            probe="core",
            since=cook.starts,
            measures="core",
            piece=f"{cook.id}-bare",
        )
        for cook in record.cooks
    )
    return replace(
        record,
        weighings=weighings,
        estimates=estimates,
        probes=(probe,),
        placements=placements,
        cooks=tuple(
            cook.model_copy(update={"plated": "by one who did not know"}) for cook in record.cooks
        ),
        figures=figures,
        events=events,
        tasters=tasters,
        samples=samples,
        ballots=tuple(ballots),
    )


@cache
def lopsided() -> TrialRecord:
    """The same with all that may favour an arm: a side of its own, first served, plated knowing."""
    record = whole_record()
    sides = {"bare": "left", "paper": "right"}
    return replace(
        record,
        pieces=tuple(
            piece.model_copy(
                update={"spot": Spot(cooker="barrel", position=sides[piece.arm or ""])}
            )
            for piece in record.pieces
        ),
        ballots=tuple(
            ballot.model_copy(update={"presented": tuple(sorted(ballot.presented))})
            for ballot in record.ballots
        ),
        cooks=tuple(cook.model_copy(update={"plated": "by one who knew"}) for cook in record.cooks),
    )


QUESTION = {
    ("Measure", name): "the question, fixed beforehand"
    for name in ("better", "unit", "state", "core_c", "scale_low", "scale_high", "main")
} | {
    **{("VerdictRule", name): "the rule, fixed beforehand" for name in ("sure", "hint", "leaning")},
    ("Trial", "verdict"): "the rule, whose own fields stand above",
    ("Arm", "changes"): "what the arms are",
}
DECISIONS = {
    ("Exclusion", name): "a decision that is told, not something that is known"
    for name in Exclusion.model_fields
} | {
    ("Piece", "arm"): "a piece without an arm is not part of the comparison",
    ("Piece", "animal"): "set before the draw, which shares it out by chance; see below",
    ("Piece", "half_of"): "set before the draw, which shares it out by chance; see below",
    ("Ballot", "blind"): "not said it is as the codes have it, which the samples say",
    ("Event", "kind"): "what happened, not something said of it",
}
NOT_ASKED = QUESTION | DECISIONS
"""Fields that are no knowledge which could be left out, with the reason."""

WORST: dict[tuple[str, str], dict[str, tuple[float, ...]]] = {
    # What is assumed where nothing is said, and less: who knows worse than that must say so.
    ("Scale", "max_error_kg"): {"": (0.001, 0.01)},
    ("Scale", "repeatability_kg"): {"": (0.001, 0.003)},
    ("Figure", "uncertainty"): {"bark": (0.05, 0.3), "shear": (0.05, 0.6)},
    ("Measure", "spread"): {
        "yield": (0.004, 0.03),
        "shear": (0.3, 1.2),
        "bark": (0.2, 0.5),
        "liking": (0.3, 0.85),
        "time": (600.0, 3600.0),
    },
    ("Measure", "spread_share"): {"shear": (0.05, 0.3), "bark": (0.05, 0.1)},
}


def lists_of(record: TrialRecord) -> dict[str, list[Record]]:
    """Every list of records of a trial, and the parts of its question, by where they stand."""
    found = {
        one.name: list(getattr(record, one.name))
        for one in fields(RecordParts)
        if isinstance(getattr(record, one.name), tuple)
    }
    trial = record.trial
    return {
        **found,
        "trial": [trial],
        "trial.draw": [trial.draw],
        "trial.verdict": [trial.verdict],
        "trial.measures": list(trial.measures),
        "trial.arms": list(trial.arms),
    }


def with_rows(record: TrialRecord, where: str, rows: list[Record]) -> TrialRecord:
    changed: dict[str, Any] = {where: rows[0] if where == "trial" else tuple(rows)}
    if where.startswith("trial."):
        name = where.removeprefix("trial.")
        value = tuple(rows) if isinstance(getattr(record.trial, name), tuple) else rows[0]
        content = {one: getattr(record.trial, one) for one in Trial.model_fields}
        return replace(record, trial=Trial(**{**content, name: value}))
    return replace(record, **changed)


def said(row: Record, name: str, value: Any) -> Record:
    """The same row with one field said otherwise; raises where that makes no sense."""
    content = {one: getattr(row, one) for one in type(row).model_fields}
    return type(row)(**{**content, name: value})


def values_of(record: TrialRecord, row: Record, name: str, annotation: Any) -> Iterator[Any]:
    """Values that a field of this type may have."""
    worst = WORST.get((type(row).__name__, name))
    if worst is not None:
        yield from worst.get(getattr(row, "measure", getattr(row, "id", "")), worst.get("", ()))
        return
    origin = get_origin(annotation)
    if annotation == Id:
        first = (rows[0] for rows in lists_of(record).values() if rows)
        yield from dict.fromkeys(one.id for one in first if hasattr(one, "id"))
    elif origin is Annotated:
        yield from values_of(record, row, name, get_args(annotation)[0])
    elif origin in (Union, types.UnionType):
        for one in get_args(annotation):
            yield from values_of(record, row, name, one)
    elif origin is Literal:
        yield from get_args(annotation)
    elif origin is tuple:
        for one in values_of(record, row, name, get_args(annotation)[0]):
            yield (one,)
    elif annotation is bool:
        yield from (True, False)
    elif annotation is str:
        yield "said"
    elif annotation is int:
        yield from (101, 3)
    elif annotation is float:
        yield {"kg": 0.01, "c": 80.0, "k": 1.0, "m": 0.05}.get(name.rpartition("_")[2], 0.2)
    elif annotation is datetime:
        yield from (MADE - timedelta(days=31), MADE)
    elif annotation is Spot:
        yield from (Spot(cooker="barrel", position=place) for place in ("left", "right"))
    elif isinstance(annotation, type) and issubclass(annotation, StrEnum):
        yield from annotation


class LookedAtError(ComparisonError):
    """Stops a judging where the model would begin."""


Looks = dict[str, FloatArray]


def looks(record: TrialRecord) -> Looks:
    """The posterior sd of the difference of each measure at spreads a half to twice the middle."""
    key = tuple(getattr(record, one.name) for one in fields(RecordParts) if one.name != "readings")
    if key not in _LOOKED:
        _LOOKED[key] = _looks(record)
    return _LOOKED[key]


_LOOKED: dict[tuple[Any, ...], Looks] = {}
solved = cache(lambda *parts: solve_what_can_be(*parts[:3], arms=dict(parts[3]), seed=parts[4]))


def _looks(record: TrialRecord) -> Looks:
    found: Looks = {}

    class Stopping:
        @classmethod
        def of(
            cls,
            values: FloatArray,
            layout: ComparisonLayout,
            priors: Priors,
            cov: FloatArray,
            bounds: FloatArray | None = None,
        ) -> None:
            assert bounds is None
            found[priors_of[-1]] = sds(values, layout, priors, cov)
            raise LookedAtError("looked at")

    priors_of: list[str] = []
    finder = responses_of

    def solving(
        weighings: Iterable[Weighing],
        scales: Iterable[Scale],
        estimates: Iterable[PartEstimate],
        *,
        arms: Mapping[str, str],
        seed: int,
    ) -> PartSolved:
        # The ledger takes longest, and most fields are none of its business.
        return solved(tuple(weighings), tuple(scales), tuple(estimates), tuple(arms.items()), seed)

    def named(record: TrialRecord, measure: Measure, *rest: Any) -> Responses:
        priors_of.append(measure.id)
        return finder(record, measure, *rest)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(judge_module, "Analyses", Stopping)
        patch.setattr(judge_module, "responses_of", named)
        patch.setattr(judge_module, "solve_what_can_be", solving)
        patch.setattr(judge_module, "conduct_of", lambda _: None)
        judge(record, made=MADE)
    return found


def sds(
    values: FloatArray, layout: ComparisonLayout, priors: Priors, cov: FloatArray
) -> FloatArray:
    """By the formula of the conjugate normal model, written down again; (spreads,)."""
    used = ~np.isnan(values)
    arm = layout.arm[used]
    known = cov[np.ix_(used, used)]
    known = known + priors.mu_sd**2
    same = arm[:, None] == arm[None, :]
    known = known + 0.5 * priors.difference_sd**2 * same
    told = 0.5 * priors.difference_sd**2 * ((arm == 1) * 1.0 - (arm == 0))
    # Gauss and Hermite's three points of a normal score for either kind of spread.
    points = [(-math.sqrt(3.0), 1 / 6), (0.0, 2 / 3), (math.sqrt(3.0), 1 / 6)]
    found = []
    for times in (0.5, 1.0, 2.0):
        mean = 0.0
        for (own, weight), (shared, other) in product(points, points):
            total = known + np.eye(len(arm)) * (times * priors.piece.sd_at(np.array(own))) ** 2
            for name, labels in layout.factors.items():
                level = labels[used]
                sd = priors.group(name).sd_at(np.array(shared))
                total = total + (level[:, None] == level) * sd**2
            left = priors.difference_sd**2 - told @ np.linalg.solve(total, told)
            mean += weight * other * left
        found.append(math.sqrt(mean))
    return np.array(found)


@cache
def cases() -> list[tuple[str, str]]:
    """Where a field stands that may be left out, and its name."""
    return [
        (where, name)
        for where, rows in lists_of(whole_record()).items()
        if rows
        for name, info in type(rows[0]).model_fields.items()
        if not info.is_required() and (type(rows[0]).__name__, name) not in NOT_ASKED
    ]


def some_of(rows: list[Record]) -> list[set[int]]:
    """Which rows a field is said or left out of: all, the first, and each of a few."""
    each = range(len(rows)) if len(rows) < 6 else range(1)
    return [set(range(len(rows))), *({at} for at in each)] if len(rows) > 1 else [{0}]


def filled(rows: list[Record], name: str, value: Any, which: set[int]) -> list[Record]:
    return [said(row, name, value) if at in which else row for at, row in enumerate(rows)]


def leaving_out(record: TrialRecord, where: str, name: str) -> Iterator[tuple[Any, TrialRecord]]:
    """Yield records in which a field is said, of all rows and of the first only, and what it is."""
    rows = lists_of(record)[where]
    hint = get_type_hints(type(rows[0]), include_extras=True)[name]
    yield getattr(rows[0], name), record
    if record == lopsided():
        return
    for which in some_of(rows):
        row = rows[min(which)]
        for value in values_of(record, row, name, hint):
            try:
                found = with_rows(record, where, filled(rows, name, value, which))
            except (ValidationError, ValueError):
                continue
            # A value that contradicts the rest of the record is a slip: what rests on it waits
            # until it is settled, and not having said it takes the contradiction away with it.
            if not found.problems() and not waiting_of(found):
                yield value, found


@pytest.mark.parametrize(("where", "name"), cases())
def test_leaving_a_field_out_never_makes_a_verdict_surer(where: str, name: str) -> None:
    tried = 0
    for record in (whole_record(), lopsided()):
        for value, full in leaving_out(record, where, name):
            rows = lists_of(full)[where]
            default = type(rows[0]).model_fields[name].get_default(call_default_factory=True)
            tried += value != default
            for which in some_of(rows):
                try:
                    left = with_rows(full, where, filled(rows, name, default, which))
                except (ValidationError, ValueError):
                    continue
                if left == full or left.problems():
                    continue
                with_it, without = looks(full), looks(left)
                for measure, sd in without.items():
                    assert measure in with_it, f"{value!r}: {measure} is judged only without it"
                    narrower = np.min(sd / with_it[measure])
                    assert narrower >= 1.0 - TOLERANCE, f"{value!r}: {measure} {narrower:.3f}"
    assert tried, "no value was found that this field may have: say one in `whole_record`"


@pytest.mark.parametrize("name", ["animal", "half_of"])
def test_what_stands_before_the_draw_is_shared_out_by_it(name: str) -> None:
    """Over the layouts that the draw could have given: on average nothing is gained by not saying.

    Two animals, or two wholes, in three pairs; in some of the eight layouts they run with the arms.
    """
    record = record_of([(0.58, 0.61)] * 3)
    wholes = tuple(
        Piece(id=one, name=one, cut="shoulder", species="pork") for one in ("first", "second")
    )
    origins = ["first", "first", "first", "second", "second", "second"]
    # Pairs are (0, 3), (1, 4), (2, 5): of one pair each piece has another origin.
    told = []
    for swaps in product((0, 1), repeat=3):
        at = [pair + 3 * (arm ^ swap) for pair, swap in enumerate(swaps) for arm in (0, 1)]
        pieces = tuple(
            piece.model_copy(update={name: origins[where]})
            for piece, where in zip(record.pieces, at, strict=True)
        )
        told.append(looks(replace(record, pieces=(*wholes, *pieces)))["yield"] ** 2)
    without = looks(record)["yield"]
    # As pieces are believed to differ; other multiples stretch what is left within an animal only.
    assert without[1] >= (1.0 - TOLERANCE) * np.sqrt(np.mean(told, axis=0)[1])


def test_a_draw_of_cooks_needs_not_be_said_to_count() -> None:
    record = whole_cooks()
    assert record.trial.draw.given_to == "pieces"
    found = whole_cooks_of(record)
    assert found is not None
    assert found.tolist() == [0, 0, 1, 1, 2, 2, 3, 3]
    assert whole_cooks_of(whole_record()) is None


def whole_cooks() -> TrialRecord:
    """Two cooks an arm, two pieces each."""
    record = record_of([(0.58, 0.61)] * 4)
    arms = {cook.id: ("bare", "paper")[at % 2] for at, cook in enumerate(record.cooks)}
    pieces = tuple(
        piece.model_copy(update={"arm": arms[piece.cook or ""]}) for piece in record.pieces
    )
    return replace(record, pieces=pieces)


def test_a_result_without_a_time_may_have_been_seen_as_soon_as_its_cook_began() -> None:
    """Or an amendment made after it would bind by leaving the time out."""
    record = replace(whole_record(), events=())
    start = record.cooks[0].starts
    timed = tuple(
        one.model_copy(update={"at": start + timedelta(hours=30)}) for one in record.weighings
    )
    untimed = tuple(one.model_copy(update={"at": None}) for one in record.weighings)
    bare = replace(record, weighings=untimed, figures=(), ballots=())
    assert first_result(replace(bare, weighings=timed)) == start + timedelta(hours=30)
    assert first_result(bare) == start
    assert first_result(replace(record, weighings=(), ballots=())) == start
    assert first_result(replace(record, weighings=(), figures=())) == start
