"""The pages that explain: methods and priors with their sources, cautions, and how to check."""

from fairsmoke.judging.conduct import (
    COME_UP_LIMIT_S,
    COOL_END_C,
    COOL_END_LIMIT_S,
    COOL_MIDDLE_C,
    COOL_MIDDLE_LIMIT_S,
    HOLD_CODE_C,
    PieceConduct,
)
from fairsmoke.judging.finding import Finding
from fairsmoke.quantity import METRIC, Units, show_duration, show_temperature
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Section
from fairsmoke.telling.sentences import come_up_ends, cooling_text, doubt_lines
from fairsmoke.trial.cook import EventKind
from fairsmoke.trial.protocol import Cover
from fairsmoke.trial.record import TrialRecord

METHODS = (
    "The model. Each value is the level of its arm plus what its cook, its animal, the whole piece "
    "that it was cut from, its place in the cooker and the piece itself add, plus the error of "
    "measuring it. How far each of these spreads is not known, so the answer averages over all "
    "spreads that the record and the earlier beliefs allow, by numerical integration; nothing is "
    "drawn at random in it. Times are compared as ratios and shown as minutes.",
    "The verdict comes from the chances that the difference is larger than what would matter, "
    "either way, or smaller, and from how sure the trial asked to be. It may be looked at as often "
    "as one likes.",
    "Beside the model stand classical answers: the re-randomisation test, which uses nothing but "
    "the draw that was really made; the paired t interval; and, where pairs do not say it all, a "
    "mixed model fitted by REML with the degrees of freedom of Kenward and Roger (1997). Where "
    "they differ from the model, the model's earlier beliefs are at work.",
    "The mass ledger treats each weighing as the sum of what lay on the scale and solves for the "
    "parts. Uncertainty follows JCGM 100:2008 (the GUM), with draws as in JCGM 101:2008 where a "
    "result is not a plain sum; what was never weighed has an interval instead of a value.",
    "Readings that show an open probe, a value that does not move, a jump that meat cannot make, "
    "or a second value for one moment are kept and shown but not believed.",
)


def methods_section(finding: Finding) -> Section:
    """Return how the answer was worked out, and what was believed before the trial."""
    section = Section("How it was worked out")
    section.blocks.append(blocks.items(METHODS))
    for found in finding.measures:
        if found.prior_lines:
            section.blocks += [
                blocks.heading(f"Believed before the trial: {found.measure.name}"),
                blocks.items(found.prior_lines),
            ]
    return section


def cautions_section(finding: Finding, units: Units = METRIC) -> Section:
    """Return the cautions, and what the record shows and lacks about each piece's safety."""
    record = finding.record
    section = Section("Cautions")
    section.blocks += [blocks.items([*doubt_lines(finding, units), *caution_lines(record, units)])]
    rows = [
        [
            record.piece(found.piece).name,
            _come_up(found),
            _hold(found, _probe_error_k(record, found.piece), units),
            cooling_text(found.cooling, units),
            _lacking(record, found),
        ]
        for found in finding.conduct.pieces
    ]
    if rows:
        ends = come_up_ends(units)
        middle, cold = (show_temperature(c, units) for c in (COOL_MIDDLE_C, COOL_END_C))
        columns = [
            blocks.Column("Piece", width=2.5),
            blocks.Column(f"Slow warming, core {ends}", width=4),
            blocks.Column("Hot holding", width=4),
            blocks.Column("Cooling, core", width=4),
            blocks.Column("What the record lacks", width=4),
        ]
        section.blocks += [
            blocks.heading("What the record shows"),
            blocks.table(columns, rows),
            blocks.small(
                f"Compared with: at most {show_duration(COME_UP_LIMIT_S)} from {ends}, USDA FSIS "
                "cooking guideline as quoted by Shrestha et al., J. Food Prot. 88:100445, 2025; "
                f"and {show_temperature(HOLD_CODE_C, units)} or more in hot holding, FDA Food Code "
                "3-501.16(A)(1), with the probe's own error counted against it. Holding is told by "
                "the core, or by the air of the cabinet where no probe was left in the meat. "
                f"Cooling: {show_temperature(HOLD_CODE_C, units)} to {middle} within "
                f"{show_duration(COOL_MIDDLE_LIMIT_S)} and to {cold} within "
                f"{show_duration(COOL_END_LIMIT_S)} in all, Food Code 3-501.14(A), as the core "
                "probe read it after the pull."
            ),
        ]
    return section


def caution_lines(record: TrialRecord, units: Units = METRIC) -> list[str]:
    """Return what anyone who copies this cook should know, from what was done in it."""
    hot, room, cold = (show_temperature(c, units) for c in (HOLD_CODE_C, COOL_MIDDLE_C, COOL_END_C))
    lines = [
        "This report does not say that any food is fit to eat. It says what the record shows and "
        "what it lacks; your local code and the authority that enforces it decide.",
        "No difference in it, not more yield, less time or a better score, is a reason to cook "
        "less, to hold cooler or to cool slower than that code asks.",
        "Undercooking: a core reading is one spot, and the coldest may lie elsewhere, beside the "
        "bone or in the thickest part. Check several, with a thermometer tested in melting ice.",
        "Cooling is a danger of its own for large pieces. The FDA Food Code asks for "
        f"{hot} to {room} within 2 h and to {cold} within 6 h in all (3-501.14(A)); "
        "cut or spread the meat, do not cool it whole.",
        "Fire and fumes: charcoal, wood and gas make carbon monoxide, which kills unnoticed. Never "
        "run or store a lit cooker indoors, in a garage or a tent. Keep it clear of what burns, "
        "and do not leave it unattended through the night.",
    ]
    covers = _covers(record)
    if Cover.PAPER in covers:
        lines.append(
            "Paper near heat: only uncoated food paper, well away from flame, coals and the "
            "firebox; it chars and can catch fire, and so can fat that soaks through it."
        )
    if covers & {Cover.FILM, Cover.FILM_UNDER_FOIL}:
        lines.append(
            "Film near heat: only film whose maker states the temperature, the time and contact "
            "with fatty food, and never above that; no direct heat. Common polyethylene film "
            "begins to melt near 98 to 115 °C (208 to 239 °F), below many pit temperatures."
        )
    if any(piece.injected for piece in record.pieces):
        lines.append(
            "Injected meat: what was on the surface has been carried inside, so that limits for "
            "whole cuts no longer fit it."
        )
    return lines


def _covers(record: TrialRecord) -> set[Cover]:
    stages = [
        stage for arm in record.trial.arms for stage in record.trial.protocol_of(arm.id).stages
    ]
    return {cover for stage in stages for cover in (stage.wrap.above, stage.wrap.below)}


def _probe_error_k(record: TrialRecord, piece: str) -> float:
    """Return the largest stated error of the probes that were in a piece."""
    accuracy = {probe.id: probe.accuracy_k for probe in record.probes}
    inside = [accuracy.get(stay.probe, 0.0) for stay in record.placements if stay.piece == piece]
    return max(inside, default=0.0)


def _come_up(found: PieceConduct) -> str:
    if found.come_up_s is None:
        return "not known: the readings do not span it"
    at_least = "over " if found.come_up_starts_late else ""
    text = f"{at_least}{show_duration(found.come_up_s)}"
    if found.come_up_s > COME_UP_LIMIT_S:
        return f"{text}: longer than the guideline's {show_duration(COME_UP_LIMIT_S)}"
    if found.come_up_starts_late:
        return f"{text}: the start was not read, so it cannot be compared"
    return text


def _hold(found: PieceConduct, error_k: float, units: Units) -> str:
    if found.hold_s is None:
        return "no hold was recorded"
    if found.hold_lowest_c is None:
        return f"{show_duration(found.hold_s)}, temperature not read"
    lowest = show_temperature(found.hold_lowest_c, units)
    text = f"{show_duration(found.hold_s)}, lowest {lowest}"
    limit = show_temperature(HOLD_CODE_C, units)
    if found.hold_lowest_c < HOLD_CODE_C:
        return f"{text}: below the code's {limit}"
    if found.hold_lowest_c - error_k < HOLD_CODE_C:
        return f"{text}: not above {limit} once the probe's error is counted"
    return text


_NONE = "cooling and storage"


def _lacking(record: TrialRecord, found: PieceConduct) -> str:
    lacks = []
    if found.core_highest_c is None:
        lacks.append("any core reading")
    elif found.core_hours_without > 0.05:
        lacks.append(f"core readings for {show_duration(3600 * found.core_hours_without)}")
    if not any(s.piece == found.piece and s.measures == "surface" for s in record.placements):
        lacks.append("surface readings")
    if found.hold_s is None and not record.events_of(found.piece, EventKind.HOLD):
        lacks.append("a hold")
    cooled = found.cooling is not None and found.cooling.to_end_s is not None
    lacks.append("storage" if cooled else "cooling to the end, storage" if found.cooling else _NONE)
    return ", ".join(lacks)


def check_section(finding: Finding) -> Section:
    """Return how a reader can work the whole finding out again."""
    registration = finding.record.registration
    lines = [
        "Ask for the exported folder of this trial: plain YAML and CSV files with every reading, "
        "weighing, ballot and event as it was recorded, corrections included.",
        "Take the folder into a notebook of your own and judge the trial again: the same record "
        "gives the same numbers, on any machine.",
        "Every weighing stands in this report as a sum, so that a yield can be checked with pencil "
        "and paper.",
    ]
    if registration is not None:
        lines.insert(
            2,
            "Take the SHA-256 digest of registered-plan.json in that folder (sha256sum shows it): "
            f"it must be {registration.digest}, or the plan is not the one that was registered.",
        )
    section = Section("How to check this")
    section.blocks.append(blocks.items(lines))
    return section
