"""Set up a trial: ``ask``, by questions at the keyboard, by options or from a file."""

from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fairsmoke.cli.option_records import said_options, taking
from fairsmoke.cli.screen import (
    CANNOT,
    DEFAULT_NOTEBOOK,
    NEEDS_ANSWER,
    ByOption,
    JsonOption,
    NotebookOption,
    WhyOption,
    at_keyboard,
    complain,
    opened,
    reader_here,
    say,
    show_json,
    tell_recorded,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, T_, InputField
from fairsmoke.trial.nouns import Species

if TYPE_CHECKING:
    from fairsmoke.planning.asked import TrialAnswers
    from fairsmoke.setting_up.ask import Asking
    from fairsmoke.setting_up.ask_answers import WrittenAnswers

Several = list[str] | None


@dataclass(frozen=True)
class TrialOptions:
    """The question, its arms and measures, and what is at hand."""

    title: Annotated[str, typer.Option(help=T_("A short title."))] = ""
    question: Annotated[str, typer.Option(help=T_("What you want to know."))] = ""
    differs: Annotated[str, typer.Option(help=T_("What differs, in a few words."))] = ""
    arm: Annotated[
        Several,
        typer.Option(help=T_("'Bare', then 'In paper: wrap=paper'; the first is the base.")),
    ] = None
    measure: Annotated[
        Several,
        typer.Option(help=T_("'yield: 2 points', 'Bark 0-10: 1'; the first is the main one.")),
    ] = None
    sure: Annotated[str, typer.Option(help=T_("How sure a verdict must be: '95 %'."))] = ""
    cut: Annotated[str, typer.Option(help=T_("brisket, pork shoulder …"))] = ""
    species: Annotated[Species, typer.Option(help=T_("Of which animal."))] = "other"
    piece: Annotated[
        Several, typer.Option(help=T_("'shoulder-1: 3.41 kg, 11.5 cm, choice', or only how many."))
    ] = None
    cooker: Annotated[
        Several, typer.Option(help=T_("A new one with its positions: 'Barrel: left, right'."))
    ] = None
    stand_in: Annotated[Several, typer.Option(help=T_("A cooker, by its handle."))] = None
    cooks: Annotated[int, typer.Option(min=1, help=T_("Cooks that can be afforded."))] = 1
    tasters: Annotated[int, typer.Option(min=0, help=T_("How many taste."))] = 0
    blind: Annotated[
        bool | None, typer.Option(help=T_("Tasters do not know which sample is which."))
    ] = None
    price_piece: Annotated[str, typer.Option(help=T_("Of one piece, a number."))] = ""
    price_cook: Annotated[str, typer.Option(help=T_("Of one cook: fuel, a night."))] = ""
    currency: Annotated[str, typer.Option(help=T_("Of the prices."))] = ""
    leave_out: Annotated[
        Several, typer.Option(help=T_("A reason for which a piece would not count."))
    ] = None
    handle: Annotated[
        str, typer.Option("--id", help=T_("The trial's handle, if not its title."))
    ] = ""


@dataclass(frozen=True)
class MethodOptions:
    """How pieces of every arm are cooked."""

    pit: Annotated[str, typer.Option(help=T_("Air: '121 °C', '250 °F'."))] = "121 °C"
    humidity: Annotated[str, typer.Option(help=T_("none, water pan, steam …"))] = "none"
    wrap: Annotated[str, typer.Option(help=T_("paper, foil, boat … in every arm."))] = ""
    wrap_at: Annotated[str, typer.Option(help=T_("Core at which it is wrapped."))] = "71 °C"
    finish: Annotated[str, typer.Option(help=T_("Air once it is wrapped, if other."))] = ""
    until: Annotated[str, typer.Option(help=T_("Core at which it comes off."))] = "94 °C"
    longest: Annotated[str, typer.Option(help=T_("It comes off after that in any case."))] = ""
    hold: Annotated[str, typer.Option(help=T_("Holding cabinet: '66 °C'."))] = ""
    hold_for: Annotated[str, typer.Option(help=T_("How long it is held."))] = "2 h"
    hold_wrap: Annotated[str, typer.Option(help=T_("The wrap in the hold, if other."))] = ""
    note: Annotated[str, typer.Option(help=T_("What else is done, in words."))] = ""


_BESIDE_A_FILE = frozenset(
    {"file", "notebook", "only_look", "strict", "after", "why", "by", "as_json"}
)


@taking(TrialOptions, MethodOptions)
def ask(
    trial: TrialOptions,
    method: MethodOptions,
    context: typer.Context,
    file: Annotated[
        Path | None, typer.Argument(help=T_("A YAML file with all answers (docs/planning.md)."))
    ] = None,
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    only_look: Annotated[
        bool, typer.Option("--only-look", help=T_("Say what would spoil it; record nothing."))
    ] = False,
    strict: Annotated[
        bool, typer.Option("--strict", help=T_("Record nothing when anything would spoil it."))
    ] = False,
    after: Annotated[
        str, typer.Option(help=T_("A trial whose question, cut, measures … are carried over."))
    ] = "",
    why: WhyOption = "",
    by: ByOption = "",
    as_json: JsonOption = False,
) -> None:
    """Set up a trial by short questions, options or a file, and hear what would spoil it.

    Without a file and without --title the questions are asked one by one.
    """
    from fairsmoke.setting_up.ask import ask as record_asked
    from fairsmoke.setting_up.ask import look_at
    from fairsmoke.trial.cook import Cooker

    beside = said_options(context) - _BESIDE_A_FILE
    if file is None and not trial.title and not beside and at_keyboard() and not as_json:
        from fairsmoke.cli.ask_trial import ask_at_keyboard

        ask_at_keyboard(notebook, by=by, why=why, record=not only_look)
        return
    asked = _asked(file, trial, method, beside, _before(notebook, after))
    with opened(notebook) as book:
        found = look_at(asked, book.list(Cooker))
        stopped = strict and bool(found.remarks)
        if not only_look and not stopped:
            found = record_asked(book, asked, by=by, why=why)
    _show_asked(found, notebook, recorded=not (only_look or stopped), as_json=as_json)
    if stopped:
        raise typer.Exit(CANNOT)


def _asked(
    file: Path | None,
    trial: TrialOptions,
    method: MethodOptions,
    beside: set[str],
    before: "WrittenAnswers | None",
) -> "TrialAnswers":
    """Read the answers of a file, or of options; all that was said must be used."""
    from fairsmoke.setting_up.ask_answers import asked_of_answers, asked_of_file, check_used

    if file is not None and beside:
        message = N_(
            "the answers are in %(file)s, so %(option)s would be passed over; leave it out, or "
            "change the file",
            file=str(file),
            option=InputField(min(beside)),
        )
        raise JobError(message, field=min(beside))
    if file is not None:
        return asked_of_file(file)
    if not trial.title:
        complain(
            reader_here().say(
                N_(
                    "Asked: what is the trial about? Give a file with the answers, or %(title)s "
                    "and "
                    "the other options.",
                    title=InputField("title"),
                )
            )
        )
        raise typer.Exit(NEEDS_ANSWER)
    written = _written(trial, method)
    if before is not None:
        written = _on_top_of(before, written, beside)
    check_used(written, beside)
    return asked_of_answers(written)


def _before(notebook: Path, after: str) -> "WrittenAnswers | None":
    from fairsmoke.setting_up.next_trial import carried_over

    if not after:
        return None
    with opened(notebook) as book:
        return carried_over(book, after)


def _on_top_of(before: "WrittenAnswers", now: "WrittenAnswers", said: set[str]) -> "WrittenAnswers":
    """Return the answers of the trial before, but for what is said now."""
    told = {one.name for one in fields(now)} & said
    method = {one.name for one in fields(now.method)} & said
    changes: dict[str, Any] = {name: getattr(now, name) for name in told | {"title", "piece"}}
    if "cooker" in said and "stand_in" not in said:
        changes["stand_in"] = ()
    changes["method"] = replace(before.method, **{n: getattr(now.method, n) for n in method})
    return replace(before, **changes)


def _written(trial: TrialOptions, method: MethodOptions) -> "WrittenAnswers":
    from fairsmoke.setting_up.ask_answers import WrittenAnswers
    from fairsmoke.setting_up.method import Method

    given: dict[str, Any] = {
        name: () if value is None else value for name, value in asdict(trial).items()
    }
    return WrittenAnswers(
        **given
        | {
            "question": trial.question or trial.title,
            "differs": trial.differs or trial.title,
            "cooks": str(trial.cooks),
            "tasters": str(trial.tasters),
            "blind": trial.blind,
            "method": Method(**asdict(method)),
        }
    )


def _show_asked(found: "Asking", notebook: Path, *, recorded: bool, as_json: bool) -> None:
    from fairsmoke.telling.as_text import document_text
    from fairsmoke.telling.plan import asked_document, remarks_json

    if as_json:
        show_json(
            {
                "trial": found.trial.model_dump(mode="json"),
                "plan": found.plan.model_dump(mode="json"),
                "remarks": remarks_json(found.remarks),
                "recorded": recorded,
            }
        )
        return
    say(document_text(asked_document(found.trial, found.remarks), reader_here()))
    tell_recorded(notebook, found.trial.id if recorded else "")
