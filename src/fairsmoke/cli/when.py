"""When to do what on the day, and the sheet to do it by: ``when``, ``run-sheet``."""

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    JsonOption,
    NotebookOption,
    TrialOption,
    far_along,
    opened,
    say,
    show_json,
    stopped,
    trial_meant,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import T_

if TYPE_CHECKING:
    from fairsmoke.planning.day.constraints import Asked
    from fairsmoke.planning.day.day_plan import Day, DayPlan
    from fairsmoke.planning.day.time_errors import Scatter

FileArgument = Annotated[
    Path | None,
    typer.Argument(
        help=T_("A YAML file as of simulate, each piece with its arm (planning-when.md).")
    ),
]
ServeOption = Annotated[str, typer.Option("--serve", help=T_("'2026-05-03 13:00'."))]
ZoneOption = Annotated[
    str, typer.Option("--zone", help=T_("'Europe/London'; the notebook's own when left out."))
]
CookOption = Annotated[
    str,
    typer.Option("--cook", help=T_("A planned cook by its number, or a begun one by its handle.")),
]
CertaintyOption = Annotated[
    float, typer.Option("--certainty", help=T_("Chance that all is ready in time."))
]
ShortestOption = Annotated[str, typer.Option("--hold-shortest", help=T_("'1 h'."))]
LongestOption = Annotated[str, typer.Option("--hold-longest", help=T_("'12 h'."))]
TogetherOption = Annotated[
    bool, typer.Option("--together", help=T_("All pieces on at once; holds then differ."))
]
NotBeforeOption = Annotated[
    str, typer.Option("--not-before", help=T_("Earliest start; now when left out; 'any' for none."))
]
FuelOption = Annotated[str, typer.Option("--fuel-every", help=T_("'1 h'; 'never'."))]
WaterOption = Annotated[str, typer.Option("--water-every", help=T_("'2 h'; 'never'."))]
HeatOption = Annotated[str, typer.Option("--heat-up", help=T_("From lighting to ready."))]
RestOption = Annotated[str, typer.Option("--rest", help=T_("Open, before it is sliced."))]
ScatterOption = Annotated[
    str,
    typer.Option(
        "--scatter",
        help=T_(
            "Of real pits besides the model's: 'logs', 'none', or two numbers such as 0.1,0.15."
        ),
    ),
]
DrawsOption = Annotated[int, typer.Option("--draws", help=T_("Draws of what is not known."))]
SeedOption = Annotated[int, typer.Option("--seed", min=0, help=T_("The same seed, the same plan."))]


def when(
    file: FileArgument = None,
    serve: ServeOption = "",
    zone: ZoneOption = "",
    trial: TrialOption = "",
    cook: CookOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    certainty: CertaintyOption = 0.9,
    hold_shortest: ShortestOption = "",
    hold_longest: LongestOption = "",
    together: TogetherOption = False,
    not_before: NotBeforeOption = "",
    fuel_every: FuelOption = "1 h",
    water_every: WaterOption = "2 h",
    heat_up: HeatOption = "1 h",
    rest: RestOption = "20 min",
    scatter: ScatterOption = "logs",
    draws: DrawsOption = 400,
    seed: SeedOption = 1,
    as_json: JsonOption = False,
) -> None:
    """Say when to light, put on, wrap, pull, hold, open and slice to serve in time."""
    from fairsmoke.telling.when import when_json, when_text

    asked = _asked(
        certainty, hold_shortest, hold_longest, together, fuel_every, water_every, heat_up, rest
    )
    source = _Source(file, serve, zone, trial, cook, notebook, not_before, draws, seed)
    told = _planned(source, asked, _scatter(scatter), with_levers=True)
    show_json(when_json(told)) if as_json else say(when_text(told))


def run_sheet(
    out: Annotated[Path, typer.Option("--out", "-o", help=T_("The PDF to write."))],
    file: FileArgument = None,
    calendar: Annotated[
        Path | None, typer.Option(help=T_("The reminders too, as an iCalendar file (.ics)."))
    ] = None,
    paper: Annotated[
        Literal["a4", "us-letter"], typer.Option(help=T_("What it is printed on."))
    ] = ("a4"),
    serve: ServeOption = "",
    zone: ZoneOption = "",
    trial: TrialOption = "",
    cook: CookOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    certainty: CertaintyOption = 0.9,
    hold_shortest: ShortestOption = "",
    hold_longest: LongestOption = "",
    together: TogetherOption = False,
    not_before: NotBeforeOption = "",
    fuel_every: FuelOption = "1 h",
    water_every: WaterOption = "2 h",
    heat_up: HeatOption = "1 h",
    rest: RestOption = "20 min",
    scatter: ScatterOption = "logs",
    draws: DrawsOption = 400,
    seed: SeedOption = 1,
    as_json: JsonOption = False,
) -> None:
    """Print the sheet of one cook, a page to write on, and its reminders for a calendar."""
    from fairsmoke.answers.run_sheet import check_targets, write_run_sheet

    # Before anything is simulated: nobody waits for what cannot be written.
    check_targets(out, calendar)
    asked = _asked(
        certainty, hold_shortest, hold_longest, together, fuel_every, water_every, heat_up, rest
    )
    source = _Source(file, serve, zone, trial, cook, notebook, not_before, draws, seed)
    told = _planned(source, asked, _scatter(scatter), with_levers=False)
    written = write_run_sheet(told, out, calendar, made=datetime.now(UTC), paper=paper)
    if as_json:
        show_json({"form": 1, "written": [str(path) for path in written]})
        return
    for path in written:
        say(f"Written: {path}")


@dataclass(frozen=True)
class _Source:
    """Where the day comes from, as it was typed."""

    file: Path | None
    serve: str
    zone: str
    trial: str
    cook: str
    notebook: Path
    not_before: str
    draws: int
    seed: int


def _asked(
    certainty: float,
    shortest: str,
    longest: str,
    together: bool,
    fuel: str,
    water: str,
    heat_up: str,
    rest: str,
) -> "Asked":
    from fairsmoke.planning.day.constraints import Asked
    from fairsmoke.quantity import parse_duration

    def every(text: str) -> float:
        return 0.0 if text.strip().lower() == "never" else parse_duration(text)

    return Asked(
        certainty=certainty,
        hold_shortest_s=parse_duration(shortest) if shortest else None,
        hold_longest_s=parse_duration(longest) if longest else None,
        heat_up_s=parse_duration(heat_up),
        rest_s=parse_duration(rest),
        together=together,
        fuel_every_s=every(fuel),
        water_every_s=every(water),
    )


def _scatter(text: str) -> "Scatter":
    from fairsmoke.planning.day.time_errors import FROM_LOGS, NO_MORE, Scatter

    word = text.strip().lower()
    if word in ("logs", "none"):
        return FROM_LOGS if word == "logs" else NO_MORE
    try:
        shared, own = (float(part) for part in word.split(","))
    except ValueError:
        raise JobError(
            f"--scatter {text!r}: write logs, none, or two standard deviations of the logarithm of "
            "a time, of a cooker's day and of a piece: 0.1,0.15"
        ) from None
    return Scatter(shared, own)


def _planned(
    source: _Source, asked: "Asked", scatter: "Scatter", *, with_levers: bool
) -> "DayPlan":
    from fairsmoke.answers.store import usual_folder
    from fairsmoke.answers.when import plan_day
    from fairsmoke.trial.clock import parse_instant

    day = _day(source)
    word = source.not_before.strip().lower()
    not_before = None
    if word != "any":
        not_before = parse_instant(source.not_before, day.zone) if word else datetime.now(UTC)
    with far_along("Cooking") as tell:
        told = plan_day(
            day,
            asked,
            scatter=scatter,
            not_before=not_before,
            folder=usual_folder(),
            progress=tell,
            with_levers=with_levers,
        )
    if told is None:
        raise stopped("what was run is kept.")
    return told


def _day(source: _Source) -> "Day":
    from fairsmoke.answers.when_day import day_of_file, day_of_trial
    from fairsmoke.trial.clock import parse_instant, time_zone

    if not source.serve:
        raise JobError("say when it is served: --serve '2026-05-03 13:00'")
    if source.file is not None:
        if source.trial or source.cook:
            raise JobError("say one thing to plan: a FILE, or a cook of a trial")
        if not source.zone:
            raise JobError("a file has no time zone; say --zone 'Europe/London'")
        zone = time_zone(source.zone)
        serve = parse_instant(source.serve, zone)
        return day_of_file(source.file, serve, zone, draws=source.draws, seed=source.seed)
    if not source.cook:
        raise JobError("say which cook with --cook: its number in the plan, or its handle")
    with opened(source.notebook) as book:
        record = book.load_trial(trial_meant(book, source.trial))
        zone = time_zone(source.zone or book.kitchen.time_zone)
    serve = parse_instant(source.serve, zone)
    return day_of_trial(record, source.cook, serve, zone, draws=source.draws, seed=source.seed)
