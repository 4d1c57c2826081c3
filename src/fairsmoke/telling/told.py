"""The finding cut up for pages: the answer in brief, sections of blocks, and pictures as SVG.

The same blocks as the printed report, so that page and print never say two things. Everything is
plain data that JSON holds; texts are in English.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fairsmoke.judging.finding import Finding, MeasureFinding
from fairsmoke.quantity import METRIC, Units
from fairsmoke.telling.blocks import Section, figure
from fairsmoke.telling.chart_style import svg_of
from fairsmoke.telling.numbers import show_difference_interval, show_difference_words
from fairsmoke.telling.report import answer_pictures, masses_picture, stripes_picture
from fairsmoke.telling.report_front import chance_lines, front_page
from fairsmoke.telling.report_ledger import ledger_sections, piece_results, yield_rows
from fairsmoke.telling.report_measures import left_out_section, measure_sections, overview_section
from fairsmoke.telling.report_run import conduct_section, plan_section
from fairsmoke.telling.report_words import cautions_section, check_section, methods_section
from fairsmoke.telling.sentences import comparison_name

if TYPE_CHECKING:
    import altair as alt

FORM = 1
"""Raised when what is kept changes its form: what was kept in an older one is not looked at."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, eq=False)
class Told:
    """A finding as pages show it.

    ``answer`` is what lists and the first lines need; ``front`` the printed report's first page as
    data; ``sections`` what stands behind it, by a short name; ``ledger`` the whole trial's part of
    the mass ledger and ``pieces`` each piece's own, with its ``yields`` row by row; ``pictures``
    are SVG texts by name.
    """

    answer: dict[str, Any]
    front: dict[str, Any]
    sections: dict[str, dict[str, Any]]
    ledger: dict[str, Any]
    pieces: dict[str, dict[str, Any]]
    pictures: dict[str, str]


def told_of(finding: Finding, units: Units = METRIC, progress: Progress | None = None) -> Told:
    """Cut a finding up for pages; ``progress`` is told how many pictures of all are drawn."""
    charts: dict[str, alt.LayerChart] = {}
    on_front, by_measure = answer_pictures(finding, charts)
    overview = overview_section(finding, stripes_picture(finding, charts))
    ledger = ledger_sections(finding, masses_picture(finding, charts, units), units)[0]
    measures = measure_sections(finding, by_measure)
    # On a page the answer's charts stand with the main measure's numbers as well.
    measures[0].blocks[1:1] = [figure(name, "", alt) for name, alt in on_front.items()]
    sections = {
        "overview": overview,
        **{f"measure-{number}": section for number, section in enumerate(measures)},
        "plan": plan_section(finding, units),
        "conduct": conduct_section(finding, units),
        "left-out": left_out_section(finding),
        "methods": methods_section(finding),
        "cautions": cautions_section(finding, units),
        "check": check_section(finding),
    }
    pictures = {}
    for done, (name, chart) in enumerate(charts.items()):
        if progress is not None:
            progress(done, len(charts))
        pictures[name] = roomy(svg_of(chart))
    return Told(
        answer={**answer_of(finding), "sections": {n: s.title for n, s in sections.items()}},
        front=front_page(finding, on_front),
        sections={name: _plain(section) for name, section in sections.items()},
        ledger=_plain(ledger),
        pieces=_pieces(finding, units),
        pictures=pictures,
    )


_SIZE = re.compile(r'width="(\d+)" height="(\d+)" viewBox="0 0 \1 \2"')
_ROOM = 24


def roomy(svg: str) -> str:
    """Return a chart with room at its sides: a browser's letters may be wider than those here."""

    def wider(found: re.Match[str]) -> str:
        width, height = int(found[1]) + 2 * _ROOM, int(found[2])
        return f'width="{width}" height="{height}" viewBox="{-_ROOM} 0 {width} {height}"'

    return _SIZE.sub(wider, svg, count=1)


def answer_of(finding: Finding) -> dict[str, Any]:
    """Return the finding in brief: each measure's differences with verdict, number and chances."""
    record = finding.record
    registration = record.registration
    return {
        "form": FORM,
        "trial": record.trial.id,
        "made": finding.made.isoformat(),
        "exploratory": finding.exploratory,
        "registration": registration.digest if registration else None,
        "measures": [_measure(finding, found) for found in finding.measures],
        "ledger_problem": finding.ledger_problem,
        "open": [f"{line[0].upper()}{line[1:]}." for line in finding.remarks],
        "spots": [
            {"cook": s.cook, "spot": s.spot, "mean_c": s.mean_c, "hours": s.hours}
            for s in finding.conduct.spots
        ],
    }


def _measure(finding: Finding, found: MeasureFinding) -> dict[str, Any]:
    measure, rows = found.measure, []
    for one in found.differences:
        believed = one.believed
        rows.append(
            {
                "which": comparison_name(finding.record, one),
                "verdict": str(one.verdict.word),
                "winner": one.verdict.winner,
                "sentence": one.verdict.sentence,
                "number": show_difference_words(
                    measure, believed.value, believed.low, believed.high
                ),
                "interval": show_difference_interval(measure, believed.low, believed.high),
                "level": believed.level,
                "chances": [list(line) for line in chance_lines(measure, one)],
            }
        )
    return {
        "id": measure.id,
        "name": measure.name,
        "main": found is finding.main,
        "differences": rows,
        "notes": [] if rows else list(found.notes),
    }


def _plain(section: Section) -> dict[str, Any]:
    return {"title": section.title, "blocks": list(section.blocks)}


def _pieces(finding: Finding, units: Units) -> dict[str, dict[str, Any]]:
    """Return each piece's rows of yields and its ledger, without the weighings themselves."""
    found: dict[str, dict[str, Any]] = {}
    for piece in finding.record.units:
        ledger = finding.ledger
        blocks = [] if ledger is None else list(piece_results(finding, ledger, piece, units))
        rows = [row[1:] for row in yield_rows(finding, piece)]
        found[piece.id] = {"name": piece.name, "yields": rows, "blocks": blocks}
    return found
