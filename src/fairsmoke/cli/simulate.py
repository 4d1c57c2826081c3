"""Simulate cooks, and fit the simulator's constants again: ``simulate``, ``fit-model``."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from fairsmoke.cli.finding import UnitsOption
from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    JsonOption,
    NotebookOption,
    TrialOption,
    err,
    far_along,
    opened,
    pairs,
    say,
    show_json,
    stopped,
    trial_meant,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import T_

if TYPE_CHECKING:
    from fairsmoke.cooking import SideBySide
    from fairsmoke.quantity import Units

Humid = Literal["none", "water pan", "steam", "spritz"]

_PIECE, _METHOD, _ARMS = "The piece", "The method", "What it is compared with"
_OTHER, _HOW = "Instead of a piece and a method", "How it is run"


def simulate(
    file: Annotated[
        Path | None,
        typer.Argument(help=T_("A YAML file with pieces, protocol and arms (docs/simulator.md).")),
    ] = None,
    cut: Annotated[str, typer.Option(help=T_("brisket, pork shoulder …"))] = "",
    mass: Annotated[str, typer.Option(help=T_("Trimmed: '5.6 kg', '12 lb 4 oz'."))] = "",
    length: Annotated[str, typer.Option(help=T_("'42 cm', '16 in'."))] = "",
    width: Annotated[str, typer.Option(help=T_("Its width."))] = "",
    thick: Annotated[str, typer.Option(help=T_("Where it is thickest."))] = "",
    thin: Annotated[str, typer.Option(help=T_("Where it is thinnest; usual when left out."))] = "",
    fat_cap: Annotated[str, typer.Option(help=T_("Of the cap; usual when left out."))] = "",
    start: Annotated[str, typer.Option(help=T_("Its temperature when it goes on."))] = "4 °C",
    pit: Annotated[str, typer.Option(help=T_("Air: '121 °C', '250 °F'."))] = "121 °C",
    humidity: Annotated[Humid, typer.Option(help=T_("Moisture besides fuel and meat."))] = "none",
    wrap: Annotated[str, typer.Option(help=T_("paper, foil, boat, film under foil, tray."))] = "",
    wrap_at: Annotated[str, typer.Option(help=T_("Core at which it is wrapped."))] = "71 °C",
    finish: Annotated[str, typer.Option(help=T_("Pit once it is wrapped, if other."))] = "",
    until: Annotated[str, typer.Option(help=T_("Core at which it comes off."))] = "94 °C",
    longest: Annotated[str, typer.Option(help=T_("Longest time for each stage, '16 h'."))] = "",
    hold: Annotated[str, typer.Option(help=T_("Holding cabinet: '66 °C'."))] = "",
    hold_for: Annotated[str, typer.Option(help=T_("How long it is held."))] = "2 h",
    hold_wrap: Annotated[str, typer.Option(help=T_("Its wrap in the hold, if other."))] = "",
    against: Annotated[
        list[str] | None,
        typer.Option(
            help=T_("Another arm: 'wrap=foil', 'pit=135 °C,until=90 °C'. As often as wanted.")
        ),
    ] = None,
    altitude: Annotated[str, typer.Option(help=T_("Above the sea: '1600 m'."))] = "",
    room: Annotated[str, typer.Option(help=T_("Air outside the cooker."))] = "20 °C",
    air: Annotated[
        Literal["still", "draught", "fan"], typer.Option(help=T_("How the cooker's air moves."))
    ] = "draught",
    tender: Annotated[str, typer.Option(help=T_("Core that stands for an end by feel."))] = "94 °C",
    trial: TrialOption = "",
    from_notebook: Annotated[
        bool,
        typer.Option("--from-notebook", help=T_("A trial of the notebook; --trial says which.")),
    ] = False,
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    measured: Annotated[
        bool, typer.Option(help=T_("The trial's pieces in the pit air that was measured."))
    ] = False,
    piece: Annotated[
        list[str] | None, typer.Option(help=T_("Only this piece of the trial; as often as wanted."))
    ] = None,
    like: Annotated[
        list[str] | None, typer.Option("--as", help=T_("The model's cut for a piece: PIECE=CUT."))
    ] = None,
    draws: Annotated[int, typer.Option(help=T_("Draws of what is not known."))] = 100,
    seed: Annotated[int, typer.Option(min=0, help=T_("The same seed, the same numbers."))] = 1,
    quick: Annotated[
        bool,
        typer.Option("--quick", help=T_("One column through the thick part: see docs/limits.md.")),
    ] = False,
    workers: Annotated[
        int | None, typer.Option(min=1, help=T_("Threads; all cores when left out."))
    ] = None,
    results: Annotated[
        Path | None,
        typer.Option(help=T_("Folder of what was run; the user's cache when left out.")),
    ] = None,
    afresh: Annotated[
        bool, typer.Option("--afresh", help=T_("Run again what was run before."))
    ] = False,
    chart: Annotated[
        Path | None, typer.Option(help=T_("Draw it too: a name in .png, .svg or .pdf."))
    ] = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Simulate a cook, or arms side by side, with intervals. Nothing it says means safe.

    Ctrl-C stops it; the same command goes on from there.
    """
    from fairsmoke.answers.simulation_file import plan_of_file
    from fairsmoke.answers.simulation_quick import quick_plan
    from fairsmoke.quantity import Units
    from fairsmoke.setting_up.method import Method
    from fairsmoke.telling.chart_style import form_of

    if chart is not None:
        form_of(chart)
    of_trial = bool(trial) or from_notebook
    if sum((file is not None, bool(cut), of_trial)) != 1:
        raise JobError("say one thing to simulate: a FILE, a piece with --cut …, or --trial TRIAL")
    shown = Units.named(units or "metric")
    if file is not None:
        plan = plan_of_file(file, members=draws, seed=seed, whole_body=not quick)
    elif of_trial:
        plan, of_kitchen = _plan_of_trial(
            notebook, trial, measured, piece, like, room, tender, draws, seed, not quick
        )
        shown = Units.named(units or of_kitchen)
    else:
        sizes = {
            "cut": cut,
            "mass": mass,
            "length": length,
            "width": width,
            "thick": thick,
            "thin": thin,
            "fat_cap": fat_cap,
            "start": start,
        }
        method = Method(
            pit, humidity, wrap, wrap_at, finish, until, longest, hold, hold_for, hold_wrap
        )
        kitchen = {"altitude": altitude, "room": room, "tender": tender, "cooker": {"air": air}}
        plan = quick_plan(
            sizes,
            method,
            against or (),
            kitchen=kitchen,
            members=draws,
            seed=seed,
            whole_body=not quick,
        )
    _run_and_tell(plan, shown, results, workers, afresh, chart, as_json)


def _plan_of_trial(
    notebook: Path,
    trial: str,
    measured: bool,
    pieces: list[str] | None,
    like: list[str] | None,
    room: str,
    tender: str,
    draws: int,
    seed: int,
    whole_body: bool,
) -> "tuple[SideBySide, str]":
    from fairsmoke.answers.simulation_trial import Choices, plan_of_trial
    from fairsmoke.quantity import parse_temperature

    with opened(notebook) as book:
        record = book.load_trial(trial_meant(book, trial))
        units = book.kitchen.units
    choices = Choices(
        measured=measured,
        cuts=pairs(like or [], "--as"),
        pieces=pieces or (),
        room_c=parse_temperature(room),
        tender_c=parse_temperature(tender),
        members=draws,
        seed=seed,
        whole_body=whole_body,
    )
    return plan_of_trial(record, choices), units


def _run_and_tell(
    plan: "SideBySide",
    units: "Units",
    results: Path | None,
    workers: int | None,
    afresh: bool,
    chart: Path | None,
    as_json: bool,
) -> None:
    from fairsmoke.answers.simulation import simulate_side_by_side
    from fairsmoke.answers.store import usual_folder
    from fairsmoke.telling.simulated import simulated_json, simulated_text
    from fairsmoke.telling.simulated_chart import write_chart
    from fairsmoke.telling.simulated_data import summary_of

    with far_along("Cooking") as tell:
        found = simulate_side_by_side(
            plan,
            results or usual_folder(),
            workers=workers,
            progress=tell,
            afresh=afresh,
        )
    if not found.complete:
        raise stopped(f"{found.done:,} of {found.cooks:,} cooks are done and kept.")
    told = summary_of(found)
    show_json(simulated_json(told)) if as_json else say(simulated_text(told, units))
    if chart is not None:
        write_chart(told, chart, units)
        if not as_json:
            say(f"Drawn: {chart}")


def fit_model(
    only_table: Annotated[
        bool,
        typer.Option("--only-table", help=T_("Do not fit: the table of the constants in use.")),
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Fit the simulator's constants to the published experiments again, and show its errors.

    Nothing is changed: what it finds goes into fairsmoke.cooking.constants by hand.
    """
    from fairsmoke.cooking import DEFAULT
    from fairsmoke.cooking.calibrate import calibrate, error_table
    from fairsmoke.telling.as_json import plain

    with err.status("Cooking the published experiments") as status:
        fit = None if only_table else calibrate(lambda line: status.update(line))
        table = error_table(DEFAULT if fit is None else fit.constants)
    if as_json:
        show_json({"form": 1, "fit": plain(fit), "errors": plain(table)})
        return
    if fit is not None:
        say(fit.text)
        say()
    say(table.text)
