"""When to do what on the day, and the sheet to do it by: ``when``, ``run-sheet``."""

import os
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from fairsmoke.cli.option_records import taking
from fairsmoke.cli.progress import far_along
from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    JsonOption,
    NotebookOption,
    TrialOption,
    opened,
    reader_here,
    say,
    show_json,
    stopped,
    trial_meant,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, T_, InputField

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from fairsmoke.answers.past_times import PastCook
    from fairsmoke.answers.when import WhenRequest
    from fairsmoke.planning.day.day_plan import DayPlan
    from fairsmoke.telling.reader import Reader
    from fairsmoke.trial.record import TrialRecord


@dataclass(frozen=True)
class AskedHere:
    """What was asked in the shell: the request, the trial's record, and who reads the answer."""

    request: "WhenRequest"
    record: "TrialRecord | None"
    reader: "Reader"
    past: "tuple[PastCook, ...]" = ()

    def plan(self, *, with_adjustments: bool) -> "DayPlan":
        """Plan the day, showing how far it is. Raises typer.Exit when it was stopped."""
        from fairsmoke.answers.store import usual_folder
        from fairsmoke.answers.when import compute

        with far_along(self.reader.say(N_("Cooking"))) as tell:
            found = compute(
                self.request,
                self.record,
                past=self.past,
                store=usual_folder(),
                progress=tell,
                with_adjustments=with_adjustments,
            )
        if found is None:
            raise stopped(self.reader.say(N_("what was run is kept.")))
        return found


@dataclass(frozen=True)
class DayOptions:
    """The day that is asked about, and what it has to keep to."""

    file: Annotated[
        Path | None,
        typer.Argument(
            help=T_("A YAML file as of simulate, each piece with its arm (planning-when.md).")
        ),
    ] = None
    serve: Annotated[str, typer.Option("--serve", help=T_("'2026-05-03 13:00'."))] = ""
    zone: Annotated[
        str, typer.Option("--zone", help=T_("'Europe/London'; the notebook's own when left out."))
    ] = ""
    trial: TrialOption = ""
    cook: Annotated[
        str,
        typer.Option(
            "--cook", help=T_("A planned cook by its number, or a begun one by its handle.")
        ),
    ] = ""
    notebook: NotebookOption = DEFAULT_NOTEBOOK
    certainty: Annotated[
        float, typer.Option("--certainty", help=T_("Chance that all is ready in time."))
    ] = 0.9
    hold_shortest: Annotated[str, typer.Option("--hold-shortest", help=T_("'1 h'."))] = ""
    hold_longest: Annotated[str, typer.Option("--hold-longest", help=T_("'12 h'."))] = ""
    together: Annotated[
        bool, typer.Option("--together", help=T_("All pieces on at once; holds then differ."))
    ] = False
    not_before: Annotated[
        str,
        typer.Option("--not-before", help=T_("Earliest start; now when left out; 'any' for none.")),
    ] = ""
    fuel_every: Annotated[str, typer.Option("--fuel-every", help=T_("'1 h'; 'never'."))] = "1 h"
    water_every: Annotated[str, typer.Option("--water-every", help=T_("'2 h'; 'never'."))] = "2 h"
    heat_up: Annotated[str, typer.Option("--heat-up", help=T_("From lighting to ready."))] = "1 h"
    rest: Annotated[str, typer.Option("--rest", help=T_("Open, before it is sliced."))] = "20 min"
    scatter: Annotated[
        str,
        typer.Option(
            "--scatter",
            help=T_(
                "How real pits vary besides the model's draws: 'own' (this notebook's past cooks "
                "and --last-cooks; strangers' logs before the first), 'logs', 'none', or the "
                "standard deviations of the logarithm of a time between pits and within one: "
                "0.1,0.15."
            ),
        ),
    ] = "own"
    last_cooks: Annotated[
        str,
        typer.Option(
            "--last-cooks",
            help=T_("How far your last three cooks ran from plan: '+10 %, on time, 9 h/10 h'."),
        ),
    ] = ""
    hold: Annotated[
        str,
        typer.Option(
            "--hold", help=T_("Hold in a cabinet where no protocol has a hold: '66 °C', '150 °F'.")
        ),
    ] = ""
    draws: Annotated[int, typer.Option("--draws", help=T_("Draws of what is not known."))] = 400
    seed: Annotated[
        int, typer.Option("--seed", min=0, help=T_("The same seed, the same plan."))
    ] = 1
    units: Annotated[
        Literal["metric", "us"] | None,
        typer.Option("--units", help=T_("The notebook's own when left out; metric for a file.")),
    ] = None


def asked_here(options: DayOptions) -> AskedHere:
    """Return what the options ask. Raises JobError that names the one to mend."""
    from fairsmoke.answers.past_times import misses_said
    from fairsmoke.answers.when import WhenRequest
    from fairsmoke.quantity import Units, parse_duration, parse_temperature
    from fairsmoke.trial.clock import parse_instant

    record, past, found, in_units = _source(options)
    scatter = options.scatter.strip().lower()
    if options.last_cooks and scatter != "own":
        raise JobError(
            N_(
                "%(field)s is said, and %(scatter)s %(given)s does not look at it; leave one out.",
                field=InputField("last_cooks"),
                scatter=InputField("scatter"),
                given=options.scatter,
            ),
            field="last_cooks",
        )
    misses_said(options.last_cooks)
    word = options.not_before.strip().lower()
    serve, earliest = parse_instant(options.serve, found), None
    if not word and serve <= datetime.now(UTC):
        raise JobError(
            N_(
                "%(serve)s %(given)s is past: say a time that is still to come, or %(any)s any to "
                "plan it as if it were.",
                serve=InputField("serve"),
                given=options.serve,
                any=InputField("not_before"),
            ),
            field="serve",
        )
    if word != "any":
        earliest = parse_instant(options.not_before, found) if word else datetime.now(UTC)
    request = WhenRequest(
        serve=serve.isoformat(),
        zone=found.key,
        trial="" if record is None else record.trial.id,
        cook=options.cook,
        file="" if options.file is None else str(options.file),
        not_before="" if earliest is None else earliest.isoformat(),
        certainty=options.certainty,
        hold_shortest_s=parse_duration(options.hold_shortest) if options.hold_shortest else None,
        hold_longest_s=parse_duration(options.hold_longest) if options.hold_longest else None,
        heat_up_s=parse_duration(options.heat_up),
        rest_s=parse_duration(options.rest),
        together=options.together,
        fuel_every_s=_every(options.fuel_every),
        water_every_s=_every(options.water_every),
        log_sd=_log_sd(options.scatter),
        last_cooks=options.last_cooks,
        strangers=scatter == "logs",
        hold_c=parse_temperature(options.hold) if options.hold else None,
        draws=options.draws,
        seed=options.seed,
    )
    reader = reader_here(Units.named(options.units or in_units), found)
    return AskedHere(request, record, reader, past)


def _source(
    options: DayOptions,
) -> "tuple[TrialRecord | None, tuple[PastCook, ...], ZoneInfo, str]":
    """Return the record of the trial that is meant, the notebook's past cooks, zone and units.

    A file has no record and no past.
    """
    from fairsmoke.answers.past_times import past_cooks
    from fairsmoke.trial.clock import time_zone

    if not options.serve:
        raise _left_out("serve", "'2026-05-03 13:00'")
    if options.file is not None:
        if options.trial or options.cook:
            raise JobError(N_("Say one thing to plan: a file, or a cook of a trial."))
        if not options.zone:
            raise _left_out("zone", "'Europe/London'")
        return None, (), time_zone(options.zone), "metric"
    if not options.cook:
        raise JobError(
            N_(
                "Say which cook with %(field)s: its number in the plan, or its handle.",
                field=InputField("cook"),
            ),
            field="cook",
        )
    with opened(options.notebook) as book:
        record = book.load_trial(trial_meant(book, options.trial))
        zone = time_zone(options.zone or book.kitchen.time_zone)
        return record, past_cooks(book, options.cook), zone, book.kitchen.units


def _left_out(field: str, such_as: str) -> JobError:
    message = N_("Say %(field)s, such as %(such_as)s.", field=InputField(field), such_as=such_as)
    return JobError(message, field=field)


def _every(text: str) -> float:
    from fairsmoke.quantity import parse_duration

    return 0.0 if text.strip().lower() == "never" else parse_duration(text)


def _log_sd(text: str) -> tuple[float, float] | None:
    word = text.strip().lower()
    if word in ("own", "logs", "none"):
        return (0.0, 0.0) if word == "none" else None
    try:
        between, within = (float(part) for part in word.split(","))
    except ValueError:
        raise JobError(
            N_(
                "%(field)s “%(given)s”: write own, logs, none, or two standard deviations of the "
                "logarithm of a time, between pits and within one: 0.1,0.15.",
                field=InputField("scatter"),
                given=text,
            ),
            field="scatter",
        ) from None
    return between, within


@taking(DayOptions)
def when(options: DayOptions, as_json: JsonOption = False) -> None:
    """Say when to light, put on, wrap, pull, hold, open and slice to serve in time."""
    from fairsmoke.telling.when import when_text
    from fairsmoke.telling.when_json import when_json

    asked = asked_here(options)
    plan = asked.plan(with_adjustments=True)
    show_json(when_json(plan)) if as_json else say(when_text(plan, asked.reader))


@taking(DayOptions)
def run_sheet(
    options: DayOptions,
    out: Annotated[Path, typer.Option("--out", "-o", help=T_("The PDF to write."))],
    calendar: Annotated[
        Path | None, typer.Option(help=T_("The reminders too, as an iCalendar file (.ics)."))
    ] = None,
    paper: Annotated[
        Literal["a4", "us-letter"], typer.Option(help=T_("What it is printed on."))
    ] = ("a4"),
    language: Annotated[
        Literal["en", "de"] | None, typer.Option(help=T_("That of this shell when left out."))
    ] = None,
    clock: Annotated[Literal["24", "12"], typer.Option(help=T_("Hours of the clock."))] = "24",
    as_json: JsonOption = False,
) -> None:
    """Print the sheet of one cook, a page to write on, and its reminders for a calendar."""
    from fairsmoke.telling.reminders import calendar_content, calendar_of
    from fairsmoke.telling.run_sheet import run_sheet_content, run_sheet_pdf
    from fairsmoke.telling.when_start import not_printed

    asked = asked_here(options)
    # Before anything is simulated: nobody waits for what cannot be written.
    _check_target(out, ".pdf", b"%PDF")
    if calendar is not None:
        _check_target(calendar, ".ics", b"BEGIN:VCALENDAR")
    plan, made = asked.plan(with_adjustments=False), datetime.now(UTC)
    refused = not_printed(plan)
    if refused is not None:
        raise JobError(refused)
    reader = replace(asked.reader, language=language or asked.reader.language, clock=clock)
    sheet = run_sheet_pdf(run_sheet_content(plan, made), made, reader, paper=paper)
    files = {out: sheet}
    if calendar is not None:
        files[calendar] = calendar_of(calendar_content(plan), made, reader)
    for path, content in files.items():
        _write_whole(path, content)
    if as_json:
        show_json({"form": 1, "written": [str(path) for path in files]})
        return
    for path in files:
        say(asked.reader.say(N_("Written: %(file)s", file=str(path))))


def _check_target(path: Path, ending: str, first: bytes) -> None:
    """Refuse a name that is none of ours, so that no notebook or input is ever written over."""
    name = str(path)
    if path.suffix.lower() != ending:
        raise JobError(N_("%(file)s: give it a name that ends in %(end)s.", file=name, end=ending))
    if not path.parent.is_dir():
        folder = str(path.parent)
        raise JobError(
            N_("%(file)s: there is no folder %(folder)s; make it first.", file=name, folder=folder)
        )
    if path.is_dir():
        raise JobError(N_("%(file)s is a folder; name a file.", file=name))
    if path.exists():
        with path.open("rb") as there:
            if there.read(len(first)) not in (first, b""):
                raise JobError(N_("%(file)s holds something else; name another.", file=name))


def _write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all."""
    beside = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        beside.write_bytes(content)
        beside.replace(path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise
