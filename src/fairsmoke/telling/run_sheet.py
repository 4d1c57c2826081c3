"""The run sheet: one page a cook, to be written on. Black and white, large type, no taste codes."""

import json
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.planning.day.steps import StepKind
from fairsmoke.telling.numbers import show_clock, show_moment
from fairsmoke.telling.when import clock_of, day_rows, hours, reminder_times

Paper = Literal["a4", "us-letter"]


def run_sheet_pdf(
    told: DayPlan, made: datetime, *, paper: Paper = "a4", clock: str = "24"
) -> bytes:
    """Return the run sheet as the bytes of a PDF. The same plan and `made` give the same bytes."""
    import typst

    data = run_sheet_content(told, made, clock) | {"paper": paper}
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


def run_sheet_content(told: DayPlan, made: datetime, clock: str = "24") -> dict[str, Any]:
    """Return everything that the page sets."""
    day = told.day
    stamp = made.astimezone(UTC)
    return {
        "title": day.sides.title,
        "made": [stamp.year, stamp.month, stamp.day, stamp.hour, stamp.minute, stamp.second],
        "serve": f"Serve {show_moment(day.serve, day.zone, clock)}",
        "mark": "Invented trial" if day.invented else "",
        "certainty": f"ready in time on {100 * told.plan.ready:.0f} of 100 simulated days",
        "who": [
            [one.piece.name, one.piece.arm_name, one.piece.cooker, one.piece.place]
            for one in told.plan.pieces
        ],
        "steps": [
            [clock_of(told, at, clock), words, interval]
            for at, words, interval, _ in [
                *day_rows(told, clock),
                (0.0, "Serve", "", StepKind.SLICE),
            ]
        ],
        "rounds": [
            [f"{cooker}: {kind}", [show_clock(told.at(at), day.zone, clock) for at in times]]
            for (kind, cooker), times in reminder_times(told).items()
        ],
        "weigh": _weighings(told),
        "holds": _holds(told, clock),
        "foot": (
            f"Planned {show_moment(made, day.zone, clock)}. Times are simulated: go by thermometer "
            "and probe. The law and food authority where the food is served decide on safety."
        ),
    }


def _weighings(told: DayPlan) -> list[list[str]]:
    """Return piece, when, and what is on the scale, in the order of the day."""
    rows = []
    for one in told.plan.pieces:
        for mark in one.marks:
            rows += [[one.piece.name, str(mark.step.kind), what] for what in mark.step.weigh]
        if one.piece.run.hold is not None:
            rows.append([one.piece.name, "open", "held meat + tray"])
            rows.append([one.piece.name, "open", "drippings + tray"])
        rows.append([one.piece.name, "slice", "served meat"])
    return rows


def _holds(told: DayPlan, clock: str) -> list[str]:
    return [
        f"{one.piece.name}: off between "
        f"{clock_of(told, one.open_s - one.hold_longest_s, clock)} and "
        f"{clock_of(told, one.open_s - one.hold_shortest_s, clock)} keeps the hold within "
        f"{hours(one.hold_shortest_s)} to {hours(one.hold_longest_s)}."
        for one in told.plan.pieces
    ]


__all__ = ["Paper", "run_sheet_content", "run_sheet_pdf"]
