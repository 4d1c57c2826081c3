"""Write down by hand: ``score``, ``estimate``, and the probe that a log names: ``add-probe``."""

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated
from uuid import uuid4

import typer

from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    ByOption,
    NotebookOption,
    TrialOption,
    opened,
    pairs,
    reader_here,
    say,
    trial_meant,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, T_, InputField

if TYPE_CHECKING:
    from fairsmoke.notebook import Notebook

CookArgument = Annotated[str, typer.Argument(help=T_("Which cook."))]


def score(
    cook: CookArgument,
    scores: Annotated[
        list[str], typer.Argument(help=T_("PIECE=SCORE of each piece: shoulder-1=7 shoulder-2=5.5"))
    ],
    taster: Annotated[str, typer.Option(help=T_("Who tasted, by name."))],
    measure: Annotated[
        str, typer.Option(help=T_("Which measure; needed when several are scored."))
    ] = "",
    cooked: Annotated[
        bool, typer.Option("--cooked", help=T_("Whoever tasted had a hand in the cook."))
    ] = False,
    at: Annotated[str, typer.Option(help=T_("When, local time; now when left out."))] = "",
    note: Annotated[str, typer.Option(help=T_("What they said."))] = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    by: ByOption = "",
) -> None:
    """Write down what a taster gave each piece; it counts as not blind."""
    from fairsmoke.app.entries.score import ScoreEntry
    from fairsmoke.judging.blinding import blinding_of
    from fairsmoke.telling.blinding_words import blinding_words
    from fairsmoke.trial.clock import parse_instant, time_zone
    from fairsmoke.trial.cook import Cook

    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        zone = time_zone(book.get(Cook, cook, trial=owner).time_zone)
        which = measure or _only_scored(book, owner)
        entry = ScoreEntry(
            id=uuid4(),
            trial=owner,
            kind="score",
            cook=cook,
            at=parse_instant(at, zone) if at else datetime.now(UTC),
            measure=which,
            taster_name=taster,
            cooked=cooked,
            scores={
                piece: _points(piece, said)
                for piece, said in pairs(scores, N_("the score")).items()
            },
            note=note,
        )
        with book.transaction(by=by) as transaction:
            made = entry.write(transaction)
        record = book.load_trial(owner, lazy=True)
    say(N_("Recorded as %(handle)s.", handle=made.handle))
    say(reader_here().say(blinding_words(blinding_of(record, record.trial.measure(which)))))


def _only_scored(book: "Notebook", owner: str) -> str:
    from fairsmoke.trial.question import MeasureKind, Trial

    trial = book.get(Trial, owner)
    scored = [one.id for one in trial.measures if one.kind is MeasureKind.SCORE]
    if len(scored) == 1:
        return scored[0]
    if not scored:
        raise JobError(N_("nothing is scored in this trial"), field="measure")
    message = N_(
        "say which measure (%(field)s): %(known)s",
        field=InputField("measure"),
        known=", ".join(scored),
    )
    raise JobError(message, field="measure")


def _points(piece: str, said: str) -> float:
    try:
        return float(said.replace(",", "."))
    except ValueError as error:
        message = N_("the score of %(piece)s, “%(said)s”, is no number", piece=piece, said=said)
        raise JobError(message, field="score") from error


def estimate(
    piece: Annotated[str, typer.Argument(help=T_("Which piece."))],
    part: Annotated[
        str, typer.Argument(help=T_("What was not weighed: 'clinging fat', trim, drippings …"))
    ],
    low: Annotated[
        str, typer.Option("--from", help=T_("What it weighs at least, with its unit: 20 g."))
    ],
    high: Annotated[str, typer.Option("--to", help=T_("What it weighs at most: 60 g."))],
    why: Annotated[str, typer.Option(help=T_("What you go by; it is kept."))],
    best: Annotated[str, typer.Option(help=T_("What is likeliest, if you can tell."))] = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    by: ByOption = "",
) -> None:
    """Say from what to what a part weighs that was not weighed; the yield then has that range."""
    from fairsmoke.app.entries.estimate import EstimateEntry

    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        entry = EstimateEntry(
            id=uuid4(),
            trial=owner,
            kind="estimate",
            piece=piece,
            part=part,
            low=low,
            high=high,
            best=best or None,
            why=why,
        )
        with book.transaction(by=by) as transaction:
            made = entry.write(transaction)
    say(N_("Recorded as %(handle)s.", handle=made.handle))


def add_probe(
    name: Annotated[
        str, typer.Argument(help=T_("Its name; for a logger, as it calls the channel."))
    ],
    accuracy: Annotated[str, typer.Option(help=T_("Right within: '1 K' or '2 °F'."))] = "",
    offset: Annotated[str, typer.Option(help=T_("What it reads too much: '0.5 K'."))] = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    by: ByOption = "",
) -> None:
    """Add a probe, which the channels of a logger's file are then said to be."""
    from fairsmoke.app.set_up.fields import free_handle, given
    from fairsmoke.trial.probe import Probe

    with opened(notebook) as book, book.transaction(by=by) as transaction:
        handle = free_handle(transaction.connection, "probe", "", name)
        content = given(id=handle, name=name, accuracy=accuracy, offset=offset)
        transaction.save(Probe.from_file(content))
    say(
        N_(
            "Probe %(handle)s is recorded; name it in take-in: --probe 'NAME=%(handle)s'.",
            handle=handle,
        )
    )
