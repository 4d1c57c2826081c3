"""The finding as plain JSON data: every number that a page shows, in SI, for other programs."""

from typing import Any

from fairsmoke.judging.blinding import blinding_of
from fairsmoke.judging.finding import Difference, Finding, MeasureFinding
from fairsmoke.judging.responses import Response
from fairsmoke.telling.blinding_words import blinding_words
from fairsmoke.telling.finding.answer import verdict_sentence
from fairsmoke.telling.finding.cautions import doubt_lines
from fairsmoke.telling.numbers import half_of_95
from fairsmoke.telling.plain_data import plain as plain
from fairsmoke.telling.remark_words import source_lines
from fairsmoke.trial.question import TIMES, Better, Measure, MeasureKind
from fairsmoke.weighing import LEFT, LedgerError, Solution, yields_of

FORM = 1
"""Raised when a key changes its meaning or goes away."""


def finding_json(finding: Finding) -> dict[str, Any]:
    """Return the finding as dictionaries, lists, numbers, text and None.

    Values are in each measure's ``size``: "fraction", "s", "points" or its unit. Masses are in kg,
    temperatures in °C, times in ms since 1970 UTC where they are called ``..._ms``.
    """
    trial = finding.record.trial
    return {
        "form": FORM,
        "trial": trial.id,
        "title": trial.title,
        "question": trial.question,
        "invented": trial.invented,
        "made": finding.made.isoformat(),
        "exploratory": finding.exploratory,
        "registration": finding.record.registration.digest if finding.record.registration else None,
        "amendments": [
            one.model_dump(mode="json")
            for one in (
                finding.record.registration.amendments if finding.record.registration else ()
            )
        ],
        "deviations": plain(finding.deviations),
        "arms": [{"id": arm.id, "name": arm.name} for arm in trial.arms],
        "measures": [_measure(found, finding) for found in finding.measures],
        "ledger": _ledger(finding),
        "ledger_problem": "\n".join(map(str, finding.ledger_problems)) or None,
        "ledger_aside": list(finding.ledger_aside),
        "waiting": [
            {
                "kind": one.kind,
                "id": one.handle,
                "also": one.also or None,
                "pieces": list(one.pieces),
                "measures": [kind.value for kind in one.measures],
                "why": str(one.why),
            }
            for one in finding.waiting
        ],
        "remarks": [str(one) for one in finding.remarks],
        "check_units": [str(line) for line in doubt_lines(finding)],
        "disagreements": [
            {"between": list(one.ids), "text": str(one.words), "p": one.p}
            for one in (finding.ledger.disagreements if finding.ledger else ())
        ],
        "conduct": plain(finding.conduct),
        "left_out": plain(finding.left_out),
    }


def size_of(measure: Measure) -> str:
    """Return the size that a measure's numbers are in."""
    if measure.kind is MeasureKind.YIELD:
        return "fraction"
    if measure.kind in TIMES:
        return "s"
    return "points" if measure.kind is MeasureKind.SCORE else measure.unit


def _measure(found: MeasureFinding, finding: Finding) -> dict[str, Any]:
    measure = found.measure
    arms = {piece.id: piece.arm for piece in finding.record.units}
    return {
        "id": measure.id,
        "name": measure.name,
        "main": found is finding.main,
        "size": size_of(measure),
        "better": measure.better.value,
        "worthwhile": measure.worthwhile,
        "blinding": _blinding(finding, measure),
        "values": [_value(row, arms[row.piece]) for row in found.responses.rows],
        "arm_levels": {arm: plain(level) for arm, level in found.arm_levels},
        "differences": [_difference(finding, found, one) for one in found.differences],
        "spreads": plain(found.spreads),
        "believed_before": [str(one) for one in found.prior_lines],
        "notes": [str(one) for one in found.notes],
        "caveats": [str(one) for one in found.caveats],
        "spread_from": [str(one) for one in source_lines(found)],
    }


def _blinding(finding: Finding, measure: Measure) -> dict[str, Any] | None:
    """Return how blind a score was planned and given, with counts of scores by what was known."""
    if measure.kind is not MeasureKind.SCORE:
        return None
    found = blinding_of(finding.record, measure)
    return {
        "planned_blind": found.planned,
        "blind": found.blind,
        "scores": {str(known): count for known, count in found.scores.items()},
        "text": str(blinding_words(found)),
    }


def _value(row: Response, arm: str | None) -> dict[str, Any]:
    content: dict[str, Any] = {"arm": arm, **plain(row)}
    del content["excluded"], content["bounded"]
    if not content["waits"]:
        del content["waits"]
    # Standard; what is printed behind ± is the half of 95 %.
    content["half_of_95_interval"] = half_of_95(row.uncertainty)
    return content


def _difference(finding: Finding, found: MeasureFinding, one: Difference) -> dict[str, Any]:
    content: dict[str, Any] = plain(one)
    content.pop("density")
    content["shares"] = dict(one.shares)
    trial = finding.record.trial
    arms = [trial.arm(arm).name for arm in (one.arm, one.base)]
    quality = "higher" if found.measure.better is Better.NEITHER else "better"
    first, second = (f"“{arm}” is {quality} by enough to matter" for arm in arms)
    if one.without_past is not None:
        own, untaught = one.without_past
        content["without_past"] = {"believed": plain(own), "verdict": plain(untaught)}
    for name, verdict in (("verdict", one.verdict), ("as_amended", one.as_amended)):
        if verdict is not None:
            content[name] |= {
                "sentence": str(verdict_sentence(finding, found, one, verdict)),
                "labels": [first, "the difference is too small to matter", second],
            }
    return content


def _ledger(finding: Finding) -> list[dict[str, Any]] | None:
    if finding.ledger is None:
        return None
    return [_piece_ledger(finding.ledger, piece.id) for piece in finding.record.units]


def _piece_ledger(ledger: Solution, piece: str) -> dict[str, Any]:
    parts = [
        {
            "part": known.part.text,
            "how": known.how.value,
            "kg": known.spread.mean if known.spread else None,
            "standard_uncertainty_kg": known.spread.standard_uncertainty if known.spread else None,
            "rests_on": list(known.rests_on),
        }
        for known in ledger.known_parts(piece)
    ]
    return {"piece": piece, "parts": parts, "yields": _yields(ledger, piece)}


def _yields(ledger: Solution, piece: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for state in LEFT:
        try:
            every = yields_of(ledger, piece, state)
        except LedgerError:
            continue
        found.extend(
            {
                "meat": state.value,
                "basis": one.basis.value,
                "value": one.value,
                "standard_uncertainty": one.standard_uncertainty,
                "interval": list(one.interval),
                "shares": {source.name: source.share for source in one.sources},
            }
            for one in every
        )
    return found
