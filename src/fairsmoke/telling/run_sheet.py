"""The run sheet: one page a cook, to be written on. Black and white, large type, no taste codes."""

import json
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

from fairsmoke.messages.message import N_, Message, Words
from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.planning.day.steps import ScaleLoad, StepKind, StepWeighing
from fairsmoke.quantity.values import Instant
from fairsmoke.telling.document import said
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.when import clock, day_steps, lengths, tending

Paper = Literal["a4", "us-letter"]


def run_sheet_pdf(
    content: dict[str, Any], made: datetime, reader: Reader, *, paper: Paper = "a4"
) -> bytes:
    """Return a run sheet as the bytes of a PDF, in its reader's language, units and clock.

    ``content`` is what `run_sheet_content` returned; the same and ``made`` give the same bytes.
    """
    import typst

    stamp = made.astimezone(UTC)
    when = [stamp.year, stamp.month, stamp.day, stamp.hour, stamp.minute, stamp.second]
    data = said(content, reader) | {"paper": paper, "made": when, "language": reader.language}
    with TemporaryDirectory(prefix="fairsmoke-sheet-") as folder:
        root = Path(folder)
        (root / "data.json").write_text(json.dumps(data), encoding="utf-8")
        template = resources.files("fairsmoke.telling").joinpath("run_sheet.typ")
        (root / "sheet.typ").write_bytes(template.read_bytes())

        def set_in(accessible: bool) -> bytes:
            return bytes(
                typst.compile(
                    str(root / "sheet.typ"),
                    root=str(root),
                    ignore_system_fonts=accessible,
                    sys_inputs={"data": "data.json"},
                    pdf_standards=["ua-1"] if accessible else [],
                )
            )

        try:
            return set_in(accessible=True)
        except typst.TypstError:
            # A letter that our own faces lack: what the machine's can show is better than none.
            return set_in(accessible=False)


def run_sheet_content(plan: DayPlan, made: datetime) -> dict[str, Any]:
    """Return everything that the page sets, as messages and quantities."""
    day, pieces = plan.day, plan.plan.pieces
    return {
        "title": day.sides.title,
        "called": N_("run sheet"),
        "serve": N_(
            "Serve %(day)s, %(time)s",
            day=Instant(day.serve, "long day", day.zone),
            time=Instant(day.serve, "time", day.zone),
        ),
        "mark": N_("Invented trial") if day.invented else "",
        "certainty": N_(
            "ready in time on %(days)s of 100 simulated days", days=round(100 * plan.plan.ready)
        ),
        "heads": {
            "who": [N_("Piece"), N_("Arm"), N_("Cooker"), N_("Place")],
            "steps": [N_("Expected"), N_("Do"), N_("90 % of days"), N_("Actual")],
            "weigh": [N_("Piece"), N_("At"), N_("On the scale"), N_("Reads")],
        },
        "who": [
            [one.piece.name, one.piece.arm_name, one.piece.cooker, one.piece.place]
            for one in pieces
        ],
        "steps": [
            [clock(plan, step.at_s), step.line, step.between or ""] for step in day_steps(plan)
        ],
        "rounds": [
            [
                N_("%(cooker)s: %(what)s", cooker=cooker, what=Message(kind)),
                [Instant(plan.at(at), "time", day.zone) for at in times],
            ]
            for kind, cooker, times in tending(plan)
        ],
        "weigh": _weighings(plan),
        "holds": [
            N_(
                "%(piece)s: off between %(early)s and %(late)s keeps the hold within %(hold)s.",
                piece=one.piece.name,
                early=clock(plan, one.open_s - one.hold_longest_s),
                late=clock(plan, one.open_s - one.hold_shortest_s),
                hold=lengths(one.hold_shortest_s, one.hold_longest_s),
            )
            for one in pieces
        ],
        "foot": N_(
            "Planned %(time)s. Times are simulated: go by thermometer and probe. The law and food "
            "authority where the food is served decide on safety.",
            time=Instant(made, "moment", day.zone),
        ),
    }


def _weighings(plan: DayPlan) -> list[list[Words]]:
    """Return piece, when, and what is on the scale, in the order of the day."""
    rows: list[list[Words]] = []
    for one in plan.plan.pieces:
        weighed = [(step.step.kind, what) for step in one.steps for what in step.step.weigh]
        if one.piece.run.hold is not None:
            opened = (ScaleLoad.HELD, ScaleLoad.DRIPPINGS)
            weighed += [(StepKind.OPEN, StepWeighing(load)) for load in opened]
        weighed.append((StepKind.SLICE, StepWeighing(ScaleLoad.SERVED)))
        rows += [[one.piece.name, Message(kind), _load(what)] for kind, what in weighed]
    return rows


def _load(what: StepWeighing) -> Message:
    if not what.name:
        return Message(what.load)
    return N_("%(load)s: %(name)s", load=Message(what.load), name=what.name)
