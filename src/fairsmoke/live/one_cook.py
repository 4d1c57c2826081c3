"""One cook out of a trial, at the cost of that cook alone, however many the trial has."""

from collections.abc import Collection
from typing import cast

from sqlalchemy import or_, select

from fairsmoke.notebook import Notebook
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.readings import LazyReadings
from fairsmoke.notebook.rows import load_kept
from fairsmoke.notebook.tables import TABLES
from fairsmoke.trial.cook import Cook, Cooker, Event, Piece
from fairsmoke.trial.figure import Exclusion
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.question import Trial
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Scale, Weighing


def one_cook(book: Notebook, trial: str, cook: str) -> TrialRecord:
    """Return a trial's record with this cook alone: its pieces, events, weighings and readings.

    What belongs to no cook (figures, samples, ballots) is not in it. Readings are unpacked when
    they are looked at. Raises NotebookError when there is no such trial or cook.
    """
    found = book.get(Cook, cook, trial=trial)
    pieces = book.list(Piece, trial=trial, cook=cook)
    placements = book.list(Placement, trial=trial, cook=cook)
    probes = {placement.probe for placement in placements}
    return TrialRecord(
        trial=book.get(Trial, trial),
        cookers=book.list(Cooker),
        scales=book.list(Scale),
        probes=tuple(probe for probe in book.list(Probe) if probe.id in probes),
        cooks=(found,),
        pieces=pieces,
        placements=placements,
        events=book.list(Event, trial=trial, cook=cook),
        weighings=weighings_of(book, trial, cook, [piece.id for piece in pieces]),
        exclusions=book.list(Exclusion, trial=trial, cook=cook),
        readings=LazyReadings(
            [(cook, probe) for probe in sorted(probes)],
            lambda where, probe: book.readings(trial, where, probe),
        ),
    )


def weighings_of(
    book: Notebook, trial: str, cook: str, pieces: Collection[str]
) -> tuple[Weighing, ...]:
    """Return the weighings of a cook: those that name it, or one of its pieces alone."""
    columns = TABLES["weighing"].c
    query = select(columns.id).where(
        columns.trial_id == trial,
        or_(columns.cook == cook, columns.cook.is_(None) & columns.piece.in_(pieces)),
    )
    with book.reading() as connection:
        handles = list(connection.scalars(query))
        found = load_kept(connection, KINDS["weighing"], trial, handles)
    return tuple(cast(Weighing, one.record) for one in found)
