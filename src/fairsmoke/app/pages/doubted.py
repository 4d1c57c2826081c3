"""What waits to be settled in a trial, for the pages that show it."""

from collections.abc import Mapping, Sequence
from typing import Annotated

from fastapi import Depends, Request

from fairsmoke.app.auth import Book
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.arriving.doubted import LikelyValue
from fairsmoke.judging.waiting import Waiting, waiting_of
from fairsmoke.messages.message import Words
from fairsmoke.notebook.trial_state import TrialState, trial_state


def _waiting(request: Request, trial: FoundTrial, book: Book) -> tuple[Waiting, ...]:
    """Return what waits; worked out anew only when something was recorded since."""
    kept: dict[str, tuple[TrialState, tuple[Waiting, ...]]] = request.app.state.waiting
    with book.reading() as connection:
        state = trial_state(connection, trial.id)
    before = kept.get(trial.id)
    if before is None or before[0] != state:
        before = kept[trial.id] = (state, waiting_of(book.load_trial(trial.id, lazy=True)))
    return before[1]


WhatWaits = Annotated[tuple[Waiting, ...], Depends(_waiting)]
"""The entries of a trial that hardly can be true and that nobody settled yet."""


Fields = Sequence[tuple[str, str]]
"""The fields of a form, in order."""


def choices_of(
    fields: Fields, likely: Sequence[LikelyValue], name_of: Mapping[str, str]
) -> list[tuple[Words, Fields]]:
    """Return each likely value with the form's fields as they would then be.

    ``name_of`` maps a field of a record or entry to that of the form.
    """
    found: list[tuple[Words, Fields]] = []
    for one in likely:
        changed = {name_of.get(name, name): text for name, text in one.changes.items()}
        kept = [field for field in fields if field[0] not in changed]
        found.append((one.says, [*kept, *changed.items()]))
    return found
