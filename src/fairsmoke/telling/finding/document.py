"""The whole finding as one document: its first page, the sections behind it, and its charts."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fairsmoke.judging.finding import Finding
from fairsmoke.messages.message import N_, Words, in_a_row
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Block, Section
from fairsmoke.telling.chart_data import ChartData, dots_of, masses_of, posterior_of, stripes_of
from fairsmoke.telling.curve_data import CookCurves, cook_curves
from fairsmoke.telling.document import kept
from fairsmoke.telling.finding.answer import (
    CURVE_ON_FRONT,
    ROWS_ON_FRONT,
    brief,
    front_page,
    has_others_on_front,
    levels_alt,
    posterior_alt,
)
from fairsmoke.telling.finding.cautions import cautions_section
from fairsmoke.telling.finding.ledger import (
    fault_blocks,
    ledger_sections,
    piece_results,
    yield_rows,
)
from fairsmoke.telling.finding.left_out import left_out_section
from fairsmoke.telling.finding.measures import measure_sections, overview_section
from fairsmoke.telling.finding.methods import check_section, methods_section
from fairsmoke.telling.finding.registration import registration_blocks
from fairsmoke.telling.finding.run import conduct_section, cook_section, plan_section
from fairsmoke.telling.numbers import deciding_lines


@kept
@dataclass(frozen=True)
class FindingDocument:
    """A finding as it is told, for any reader.

    ``brief`` is what lists need; ``front`` the first page; ``sections`` what stands behind it, by
    name and in the order of print; ``pieces`` each piece's yields and ledger; ``pictures`` what
    the charts show, by name. The charts of cooks are drawn from ``curves``.
    """

    brief: Mapping[str, Any]
    front: Mapping[str, Any]
    sections: Mapping[str, Section]
    pieces: Mapping[str, Any]
    pictures: Mapping[str, ChartData]
    curves: Mapping[str, CookCurves]


def finding_document(finding: Finding, *, cooks: bool = True) -> FindingDocument:
    """Tell a finding; ``cooks`` False leaves out the section and the curves of each cook."""
    pictures: dict[str, ChartData] = {}
    on_front, by_measure = _answer_pictures(finding, pictures)
    curves: dict[str, CookCurves] = {}
    sections = {"overview": overview_section(finding, _stripes(finding, pictures))}
    sections["plan"] = plan_section(finding)
    if cooks:
        sections |= _cook_sections(finding, curves)
    sections["conduct"] = conduct_section(finding)
    for number, section in enumerate(measure_sections(finding, by_measure)):
        sections[f"measure-{number}"] = section
    masses = masses_of(finding.record, finding.ledger)
    if masses.bars:
        pictures["masses"] = masses
    name = "masses" if masses.bars else None
    sections |= ledger_sections(finding, name, masses.bars)
    sections |= {
        "left-out": left_out_section(finding),
        "methods": methods_section(finding),
        "cautions": cautions_section(finding),
        "check": check_section(finding),
    }
    front = front_page(finding, on_front)
    return FindingDocument(brief(finding), front, sections, _pieces(finding), pictures, curves)


def _answer_pictures(
    finding: Finding, pictures: dict[str, ChartData]
) -> tuple[dict[str, Words], dict[str, dict[str, Words]]]:
    """Gather each measure's charts; return those for the first page, and the rest by measure."""
    on_front: dict[str, Words] = {}
    by_measure: dict[str, dict[str, Words]] = {}
    lines = deciding_lines(finding.record.trial.verdict)
    for found in finding.measures:
        measure = found.measure
        dots = dots_of(finding.record, found)
        main = found is finding.main
        own: dict[str, Words] = {}
        for number, one in enumerate(found.differences):
            name = f"posterior-{measure.id}-{number}"
            pictures[name] = posterior_of(measure, one, lines)
            first = main and number == 0 and len(found.differences) <= CURVE_ON_FRONT
            (on_front if first else own)[name] = posterior_alt(finding, found, one)
        if any(row.dots for row in dots.rows):
            name = f"dots-{measure.id}"
            pictures[name] = dots
            crowded = len(dots.rows) > ROWS_ON_FRONT
            places = on_front if main and not crowded else own
            places[name] = levels_alt(found, finding.record)
        by_measure[measure.id] = own
    return on_front, by_measure


def _stripes(finding: Finding, pictures: dict[str, ChartData]) -> str | None:
    """Gather all differences on one scale; return the picture's name, None where there is none."""
    stripes = stripes_of(finding)
    if not stripes.rows:
        return None
    pictures["stripes"] = stripes
    return "stripes"


def _cook_sections(finding: Finding, curves: dict[str, CookCurves]) -> dict[str, Section]:
    sections = {}
    for cook in finding.record.cooks:
        shown = cook_curves(finding.record, cook)
        name = f"cook-{cook.id}"
        drawn = shown is not None and bool(shown.curves or shown.doubts.count)
        if shown is not None and drawn:
            curves[name] = shown
        sections[name] = cook_section(finding, cook, shown, name if drawn else None)
    return sections


def _pieces(finding: Finding) -> dict[str, dict[str, Any]]:
    """Return each piece's rows of yields and its ledger, without the weighings themselves."""
    found: dict[str, dict[str, Any]] = {}
    for piece in finding.record.units:
        ledger = finding.ledger
        results = [] if ledger is None else list(piece_results(finding, ledger, piece))
        rows = [row[1:] for row in yield_rows(finding, piece)]
        found[piece.id] = {"yields": rows, "blocks": results}
    return found


def for_terminal(finding: Finding) -> list[Section]:
    """Return what a terminal shows: the answer, what it rests on, and what must be minded."""
    document = finding_document(finding, cooks=False)
    front, record = document.front, finding.record
    head = [blocks.text(front["title"]), blocks.text(front["question"])]
    head.append(blocks.text(in_a_row(front["tags"], ". ")))
    answer: list[Block] = []
    for one in front["answers"]:
        answer.append(blocks.strong(one["sentence"]))
        answer += [blocks.text(words) for words in (_number(one), one["about"]) if words]
        answer.append(blocks.facts([(words, chance) for chance, words in one["chances"]]))
    section = document.sections
    told = [
        Section("", head),
        Section(N_("The answer"), [*answer, *front["blocks"]]),
        section["measure-0"],
    ]
    if len(finding.measures) > 1 and not has_others_on_front(finding):
        told.append(section["overview"])
    registration = list(registration_blocks(finding))[1:]
    if finding.deviations or (record.registration and record.registration.amendments):
        told.append(Section(N_("Registration"), registration))
    if finding.conduct.spots or any(piece.on_ms for piece in finding.conduct.pieces):
        told.append(section["conduct"])
    faults = list(fault_blocks(finding))
    if faults:
        told.append(Section(N_("Weighings"), faults))
    if finding.left_out or record.exclusions:
        told.append(section["left-out"])
    return [*told, Section(N_("Cautions"), [blocks.text(_CAUTION)])]


def _number(answer: Mapping[str, Any]) -> Words:
    return in_a_row([answer["number"], answer["interval"]], "; ")


_CAUTION = N_(
    "This says what the record shows and never that food is safe. Cook, hold and cool by your "
    "local code and your food authority's tables; a better score or yield is no reason to go below "
    "them. The report has the rest."
)
