"""Simulate cooks, and fit the simulator's constants again: ``simulate``, ``fit-model``."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from fairsmoke.cli.option_records import taking
from fairsmoke.cli.progress import far_along
from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    JsonOption,
    NotebookOption,
    TrialOption,
    err,
    opened,
    pairs,
    say,
    show_json,
    stopped,
    trial_meant,
)
from fairsmoke.cli.simulation_options import (
    Air,
    Humid,
    KitchenOptions,
    PieceOptions,
    RunOptions,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, NN_, T_, InputField

if TYPE_CHECKING:
    from fairsmoke.answers.simulation import Simulation


@dataclass(frozen=True)
class SimulatedMethodOptions:
    """How the piece is cooked: the fields of `fairsmoke.setting_up.method.Method`."""

    pit: Annotated[str, typer.Option(help=T_("Air: '121 °C', '250 °F'."))] = "121 °C"
    humidity: Annotated[Humid, typer.Option(help=T_("Moisture besides fuel and meat."))] = "none"
    wrap: Annotated[str, typer.Option(help=T_("paper, foil, boat, film under foil, tray."))] = ""
    wrap_at: Annotated[str, typer.Option(help=T_("Core at which it is wrapped."))] = "71 °C"
    finish: Annotated[str, typer.Option(help=T_("Pit once it is wrapped, if other."))] = ""
    until: Annotated[str, typer.Option(help=T_("Core at which it comes off."))] = "94 °C"
    longest: Annotated[str, typer.Option(help=T_("Longest time for each stage, '16 h'."))] = ""
    hold: Annotated[str, typer.Option(help=T_("Holding cabinet: '66 °C'."))] = ""
    hold_for: Annotated[str, typer.Option(help=T_("How long it is held."))] = "2 h"
    hold_wrap: Annotated[str, typer.Option(help=T_("Its wrap in the hold, if other."))] = ""
    fat: Annotated[str, typer.Option(help=T_("Fat added in the wrap: '60 g'."))] = ""


@dataclass(frozen=True)
class CookerOptions:
    """The cooker, and what ends a stage by feel."""

    air: Annotated[Air, typer.Option(help=T_("How the cooker's air moves."))] = "draught"
    fuel: Annotated[
        Literal["fire", "electric"], typer.Option(help=T_("What heats it; a fire gives off water."))
    ] = "fire"
    preheated: Annotated[
        bool, typer.Option("--preheated", help=T_("As hot as set when the piece goes in."))
    ] = False
    hotter: Annotated[
        str, typer.Option(help=T_("How much hotter than set it is where the piece lies: '8 °C'."))
    ] = ""
    tender: Annotated[str, typer.Option(help=T_("Core that stands for an end by feel."))] = "94 °C"


@dataclass(frozen=True)
class SimulatedTrialOptions:
    """A trial of a notebook, instead of a piece and a method."""

    trial: TrialOption = ""
    from_notebook: Annotated[
        bool,
        typer.Option("--from-notebook", help=T_("A trial of the notebook; --trial says which.")),
    ] = False
    notebook: NotebookOption = DEFAULT_NOTEBOOK
    measured: Annotated[
        bool, typer.Option(help=T_("The trial's pieces in the pit air that was measured."))
    ] = False
    piece: Annotated[
        list[str] | None, typer.Option(help=T_("Only this piece of the trial; as often as wanted."))
    ] = None
    like: Annotated[
        list[str] | None, typer.Option("--as", help=T_("The model's cut for a piece: PIECE=CUT."))
    ] = None


@taking(
    PieceOptions,
    SimulatedMethodOptions,
    KitchenOptions,
    CookerOptions,
    SimulatedTrialOptions,
    RunOptions,
)
def simulate(
    sizes: PieceOptions,
    method: SimulatedMethodOptions,
    place: KitchenOptions,
    cooker: CookerOptions,
    of: SimulatedTrialOptions,
    run: RunOptions,
    file: Annotated[
        Path | None,
        typer.Argument(help=T_("A YAML file with pieces, protocol and arms (docs/simulator.md).")),
    ] = None,
    against: Annotated[
        list[str] | None,
        typer.Option(
            help=T_("Another arm: 'wrap=foil', 'pit=135 °C,until=90 °C'. As often as wanted.")
        ),
    ] = None,
    draws: Annotated[int, typer.Option(help=T_("Draws of what is not known."))] = 100,
    quick: Annotated[
        bool,
        typer.Option("--quick", help=T_("One column through the thick part: see docs/limits.md.")),
    ] = False,
) -> None:
    """Simulate a cook, or arms side by side, with intervals. Nothing it says means safe.

    Ctrl-C stops it; the same command goes on from there.
    """
    run.check()
    of_trial = bool(of.trial) or of.from_notebook
    if sum((file is not None, bool(sizes.cut), of_trial)) != 1:
        raise JobError(
            N_(
                "say one thing to simulate: a FILE, a piece with %(cut)s …, or %(trial)s TRIAL",
                cut=InputField("cut"),
                trial=InputField("trial"),
            )
        )
    how: dict[str, Any] = {"members": draws, "seed": run.seed, "whole_body": not quick}
    units = "metric"
    if file is not None:
        from fairsmoke.answers.simulation_file import plan_of_file

        asked = plan_of_file(file, **how)
    elif of_trial:
        asked, units = _of_trial(of, place.room, cooker.tender, how)
    else:
        from fairsmoke.answers.simulation_quick import quick_plan
        from fairsmoke.answers.what_if import kitchen_of
        from fairsmoke.quantity import parse_temperature_difference
        from fairsmoke.setting_up.method import Method, check_readable

        check_readable("hotter", cooker.hotter, parse_temperature_difference)
        kitchen = kitchen_of(asdict(place) | asdict(cooker))
        own = Method(**asdict(method))
        sized = sizes.said | ({"air": cooker.hotter} if cooker.hotter else {})
        asked = quick_plan(sized, own, against or (), kitchen=kitchen, **how)
    _tell(asked, run, units)


def _of_trial(
    of: SimulatedTrialOptions, room: str, tender: str, how: dict[str, Any]
) -> "tuple[Simulation, str]":
    from fairsmoke.answers.simulation_trial import SimulationOptions, plan_of_trial
    from fairsmoke.quantity import parse_temperature

    with opened(of.notebook) as book:
        record = book.load_trial(trial_meant(book, of.trial))
        units = book.kitchen.units
    options = SimulationOptions(
        measured=of.measured,
        cuts=pairs(of.like or [], "--as"),
        pieces=of.piece or (),
        room_c=parse_temperature(room),
        tender_c=parse_temperature(tender),
        **how,
    )
    return plan_of_trial(record, options), units


def _tell(asked: "Simulation", run: RunOptions, units: str) -> None:
    from fairsmoke.answers.simulation import compute
    from fairsmoke.telling.as_text import document_text
    from fairsmoke.telling.simulated import simulated_json, simulated_sections
    from fairsmoke.telling.simulated_chart import simulated_chart

    reader = run.reader(units)
    with far_along(N_("Cooking")) as tell:
        told = compute(asked, **run.how(tell))
    if not told.complete:
        done = NN_(
            "%(count)s cook of %(cooks)s is done and kept.",
            "%(count)s cooks of %(cooks)s are done and kept.",
            told.cooks_done,
            cooks=told.cooks,
        )
        raise stopped(done)
    numbers = simulated_json(told)
    if run.as_json:
        show_json(numbers)
    else:
        say(document_text(simulated_sections(told), reader))
    names = [arm.name for arm in told.arms]
    run.draw(lambda: simulated_chart(numbers, names, told.title, reader))


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
