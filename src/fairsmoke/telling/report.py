"""The printed report of a finding: one page of answer, then everything behind it, as a PDF."""

import json
from collections.abc import Iterator
from datetime import UTC
from importlib import resources
from pathlib import Path
from tempfile import NamedTemporaryFile, TemporaryDirectory
from typing import Any, Literal

from fairsmoke.judging.finding import Finding
from fairsmoke.messages.message import N_, in_a_row
from fairsmoke.quantity.values import Instant
from fairsmoke.telling.chart_style import FONT, svg_of
from fairsmoke.telling.charts import chart_of
from fairsmoke.telling.curve_chart import curves_chart
from fairsmoke.telling.curve_data import for_reader
from fairsmoke.telling.document import said
from fairsmoke.telling.finding import FindingDocument, finding_document
from fairsmoke.telling.finding.answer import plan_words
from fairsmoke.telling.reader import ENGLISH, Reader
from fairsmoke.trial.clock import time_zone

Paper = Literal["a4", "us-letter"]

_PRINT_FONT = "Libertinus Serif"
"""The face that comes inside Typst; charts are set in it too, so no machine's fonts matter."""

_REGIONS = {"en": "GB", "de": "DE"}


def write_report(
    finding: Finding, path: Path | str, reader: Reader = ENGLISH, *, paper: Paper = "a4"
) -> None:
    """Write the report of a finding as a PDF.

    ``path`` is replaced only when the whole report is ready. The same finding, reader and paper
    give the same bytes. Raises OSError when the file cannot be written.
    """
    whole = report_pdf(finding, reader, paper=paper)
    target = Path(path)
    with NamedTemporaryFile(dir=target.parent, suffix=".part", delete=False) as part:
        part.write(whole)
    ready = Path(part.name)
    try:
        ready.replace(target)
    except OSError:
        ready.unlink()
        raise


def report_pdf(finding: Finding, reader: Reader = ENGLISH, *, paper: Paper = "a4") -> bytes:
    """Return the report of a finding as the bytes of a PDF, said to a reader."""
    import typst

    document = finding_document(finding)
    data = report_data(finding, document, reader) | {"paper": paper}
    with TemporaryDirectory(prefix="fairsmoke-report-") as folder:
        root = Path(folder)
        (root / "pictures").mkdir()
        for name, svg in _pictures(document, reader):
            svg = svg.replace(f'font-family="{FONT}"', f'font-family="{_PRINT_FONT}"')
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


def _pictures(document: FindingDocument, reader: Reader) -> Iterator[tuple[str, str]]:
    """Yield every chart as SVG text, with its name."""
    for name, data in document.pictures.items():
        yield name, svg_of(chart_of(said(data, reader)), reader.language)
    for name, shown in document.curves.items():
        yield name, svg_of(curves_chart(for_reader(shown, reader)), reader.language)


def report_data(finding: Finding, document: FindingDocument, reader: Reader) -> dict[str, Any]:
    """Return everything that the template sets, said to a reader."""
    trial = finding.record.trial
    made = finding.made.astimezone(UTC)
    zone = time_zone(finding.record.cooks[0].time_zone) if finding.record.cooks else None
    data: dict[str, Any] = said(
        {
            "description": trial.question,
            "running_mark": in_a_row(
                [N_("Invented trial") if trial.invented else "", plan_words(finding)], " · "
            ),
            "running_foot": N_(
                "Trial %(trial)s · worked out %(when)s",
                trial=trial.id,
                when=Instant(finding.made, zone=zone),
            ),
            "page": N_("Page %(page)s of %(pages)s", page="{page}", pages="{pages}"),
            "front": document.front,
            "sections": list(document.sections.values()),
        },
        reader,
    )
    moment = [made.year, made.month, made.day, made.hour, made.minute, made.second]
    return data | {"made": moment, "lang": reader.language, "region": _REGIONS[reader.language]}
