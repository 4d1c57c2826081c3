"""Every command by its verb, and what becomes of errors."""

from typing import Annotated

import typer

import fairsmoke
from fairsmoke.cli import ask as asking
from fairsmoke.cli import by_hand, finding, planning, recording, serving
from fairsmoke.cli import how_many as counting
from fairsmoke.cli import inspect as looking
from fairsmoke.cli import notebook as keeping
from fairsmoke.cli import simulate as simulating
from fairsmoke.cli import weigh as weighing
from fairsmoke.cli import when as scheduling
from fairsmoke.cli import worth_trying as choosing
from fairsmoke.cli.help_text import CommandLine
from fairsmoke.cli.screen import CANNOT, DONE, complain, said
from fairsmoke.messages.errors import is_for_a_person, message_of
from fairsmoke.messages.message import N_, T_

app = CommandLine(
    name="fairsmoke",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help=T_("Find out whether another way of barbecuing is really better."),
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(fairsmoke.__version__)
        raise typer.Exit


@app.callback()
def fairsmoke_itself(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help=T_("Say which version.")),
    ] = False,
) -> None:
    """Find out whether another way of barbecuing is really better."""


app.command("demo")(finding.demo)
app.command("serve")(serving.serve)
app.command("start")(keeping.start)
app.command("read")(recording.read)
app.command("ask")(asking.ask)
app.command("how-many")(counting.how_many)
app.command("draw")(planning.draw)
app.command("redraw")(planning.redraw)
app.command("register")(planning.register)
app.command("amend")(planning.amend)
app.command("when")(scheduling.when)
app.command("run-sheet")(scheduling.run_sheet)
app.command("begin")(planning.begin)
app.command("add-probe")(by_hand.add_probe)
app.command("look")(recording.look)
app.command("take-in")(recording.take_in)
app.command("weigh")(weighing.weigh)
app.command("confirm")(weighing.confirm)
app.command("score")(by_hand.score)
app.command("estimate")(by_hand.estimate)
app.command("show")(looking.show)
app.command("judge")(finding.judge)
app.command("tell")(finding.tell)
app.command("write")(recording.write)
app.command("correct")(keeping.correct)
app.command("strike")(keeping.strike)
app.command("bring-back")(keeping.bring_back)
app.command("list")(looking.list_records)
app.command("history")(looking.history)
app.command("copy")(keeping.copy)
app.command("restore")(keeping.restore)
app.command("check")(keeping.check)
app.command("simulate")(simulating.simulate)
app.command("worth-trying")(choosing.worth_trying)
app.command("fit-model")(simulating.fit_model)


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code; errors a person can mend print no traceback."""
    try:
        return app.run(arguments)
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else DONE
    except ValueError as error:
        if not is_for_a_person(error):
            raise
        message = said(message_of(error))
        # Several problems stand under one another, so that each can be ticked off.
        complain(
            N_(
                "Cannot do that:%(gap)s%(message)s",
                gap="\n" if "\n" in message else " ",
                message=message,
            )
        )
        return CANNOT
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        complain(
            N_(
                "Cannot do that:%(gap)s%(message)s",
                gap=" ",
                message=f"{place}{error.strerror or error}",
            )
        )
        return CANNOT
