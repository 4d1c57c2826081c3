"""The printed report of a finding: one page of answer, then everything behind it, as a PDF."""

import json
from datetime import UTC
from importlib import resources
from pathlib import Path
from tempfile import NamedTemporaryFile, TemporaryDirectory
from typing import TYPE_CHECKING, Any, Literal

from fairsmoke.judging.finding import Finding
from fairsmoke.quantity import METRIC, Units
from fairsmoke.telling.blocks import Section
from fairsmoke.telling.chart_data import Dots, believed_of, dots_of, mass_bars, stripes_of
from fairsmoke.telling.chart_style import FONT, svg_of
from fairsmoke.telling.charts import believed_chart, dots_chart, masses_chart, stripes_chart
from fairsmoke.telling.curve_chart import curves_chart
from fairsmoke.telling.curve_data import cook_curves
from fairsmoke.telling.numbers import show_moment
from fairsmoke.telling.report_front import (
    CURVE_ON_FRONT,
    ROWS_ON_FRONT,
    front_page,
    levels_alt,
    plan_words,
)
from fairsmoke.telling.report_ledger import ledger_sections
from fairsmoke.telling.report_measures import left_out_section, measure_sections, overview_section
from fairsmoke.telling.report_run import conduct_section, cook_section, plan_section
from fairsmoke.telling.report_words import cautions_section, check_section, methods_section
from fairsmoke.telling.sentences import comparison_name
from fairsmoke.trial.clock import time_zone

if TYPE_CHECKING:
    import altair as alt

Paper = Literal["a4", "us-letter"]

_PRINT_FONT = "Libertinus Serif"
"""The face that comes inside Typst; charts are set in it too, so no machine's fonts matter."""


def write_report(
    finding: Finding, path: Path | str, *, units: Units = METRIC, paper: Paper = "a4"
) -> None:
    """Write the report of a finding as a PDF.

    ``path`` is replaced only when the whole report is ready. The same finding, units and paper give
    the same bytes. Raises OSError when the file cannot be written.
    """
    whole = report_pdf(finding, units=units, paper=paper)
    target = Path(path)
    with NamedTemporaryFile(dir=target.parent, suffix=".part", delete=False) as part:
        part.write(whole)
    ready = Path(part.name)
    try:
        ready.replace(target)
    except OSError:
        ready.unlink()
        raise


def report_pdf(finding: Finding, *, units: Units = METRIC, paper: Paper = "a4") -> bytes:
    """Return the report of a finding as the bytes of a PDF."""
    import typst

    pictures, data = report_content(finding, units)
    data["paper"] = paper
    with TemporaryDirectory(prefix="fairsmoke-report-") as folder:
        root = Path(folder)
        (root / "pictures").mkdir()
        for name, chart in pictures.items():
            svg = svg_of(chart).replace(f'font-family="{FONT}"', f'font-family="{_PRINT_FONT}"')
            (root / "pictures" / f"{name}.svg").write_text(svg, encoding="utf-8")
        (root / "data.json").write_text(json.dumps(data), encoding="utf-8")
        template = resources.files("fairsmoke.telling").joinpath("report.typ")
        (root / "report.typ").write_bytes(template.read_bytes())
        try:
            return _typeset(root, accessible=True)
        except typst.TypstError:
            # A letter that our own faces lack makes the accessible form impossible; what the
            # machine's faces can show of it is better than no report.
            return _typeset(root, accessible=False)


def _typeset(root: Path, *, accessible: bool) -> bytes:
    """Set the page that lies in ``root``; PDF/UA-1 in our own faces, or plain in the machine's."""
    import typst

    return bytes(
        typst.compile(
            str(root / "report.typ"),
            root=str(root),
            ignore_system_fonts=accessible,
            sys_inputs={"data": "data.json"},
            pdf_standards=["ua-1"] if accessible else [],
        )
    )


def report_content(
    finding: Finding, units: Units = METRIC
) -> tuple[dict[str, "alt.LayerChart"], dict[str, Any]]:
    """Return the charts by name, and everything else that the template sets."""
    pictures: dict[str, alt.LayerChart] = {}
    on_front, by_measure = answer_pictures(finding, pictures)
    sections = [
        overview_section(finding, stripes_picture(finding, pictures)),
        plan_section(finding, units),
        *_cook_sections(finding, pictures, units),
        conduct_section(finding, units),
        *measure_sections(finding, by_measure),
        *ledger_sections(finding, masses_picture(finding, pictures, units), units),
        left_out_section(finding),
        methods_section(finding),
        cautions_section(finding, units),
        check_section(finding),
    ]
    return pictures, _data(finding, front_page(finding, on_front), sections)


def _data(finding: Finding, front: dict[str, Any], sections: list[Section]) -> dict[str, Any]:
    trial = finding.record.trial
    made = finding.made.astimezone(UTC)
    invented = "Invented trial" if trial.invented else ""
    zone = time_zone(finding.record.cooks[0].time_zone) if finding.record.cooks else UTC
    return {
        "title": trial.title,
        "description": trial.question,
        "made": [made.year, made.month, made.day, made.hour, made.minute, made.second],
        "running_head": trial.title,
        "running_mark": " · ".join(part for part in (invented, plan_words(finding)) if part),
        "running_foot": f"Trial {trial.id} · worked out {show_moment(finding.made, zone)}",
        "front": front,
        "sections": [{"title": s.title, "blocks": s.blocks, "fresh": s.fresh} for s in sections],
    }


def answer_pictures(
    finding: Finding, pictures: dict[str, "alt.LayerChart"]
) -> tuple[dict[str, str], dict[str, dict[str, str]]]:
    """Draw each measure's charts; return those for the first page, and the rest by measure."""
    on_front: dict[str, str] = {}
    by_measure: dict[str, dict[str, str]] = {}
    for found in finding.measures:
        measure = found.measure
        dots = dots_of(finding.record, found)
        main = found is finding.main
        crowded = len(dots.rows) > ROWS_ON_FRONT
        own: dict[str, str] = {}
        for number, one in enumerate(found.differences):
            believed = believed_of(measure, one)
            name = f"believed-{measure.id}-{number}"
            pictures[name] = believed_chart(believed)
            first = main and number == 0 and len(found.differences) <= CURVE_ON_FRONT
            places = on_front if first else own
            places[name] = (
                f"Curve of what is believed of the difference in {measure.name}, "
                f"{comparison_name(finding.record, one)}: {believed.text}. "
                + "; ".join(f"{zone.words}: {zone.chance}" for zone in believed.zones)
            )
        if _worth_drawing(dots):
            name = f"dots-{measure.id}"
            pictures[name] = dots_chart(dots)
            places = on_front if main and not crowded else own
            places[name] = levels_alt(found, finding.record)
        by_measure[measure.id] = own
    return on_front, by_measure


def _worth_drawing(dots: Dots) -> bool:
    return any(row.dots for row in dots.rows)


def stripes_picture(finding: Finding, pictures: dict[str, "alt.LayerChart"]) -> str | None:
    """Draw all differences on one scale and return the picture's name; None where there is none."""
    stripes = stripes_of(finding)
    if not stripes:
        return None
    pictures["stripes"] = stripes_chart(stripes)
    return "stripes"


def masses_picture(
    finding: Finding, pictures: dict[str, "alt.LayerChart"], units: Units
) -> str | None:
    """Draw where the mass of each piece went and return the picture's name, or None."""
    bars = mass_bars(finding.record, finding.ledger, units)
    if not bars:
        return None
    pictures["masses"] = masses_chart(bars)
    return "masses"


def _cook_sections(
    finding: Finding, pictures: dict[str, "alt.LayerChart"], units: Units
) -> list[Section]:
    sections = []
    for cook in finding.record.cooks:
        shown = cook_curves(finding.record, cook, units)
        name = None
        if shown is not None and (shown.curves or shown.doubts.count):
            name = f"cook-{cook.id}"
            pictures[name] = curves_chart(shown)
        sections.append(cook_section(finding, cook, shown, name, units))
    return sections
