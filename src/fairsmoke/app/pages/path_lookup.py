"""What stands in a page's address: there, or the page does not exist."""

from typing import Annotated

from fastapi import Depends

from fairsmoke.app.auth import Book, Seer
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_
from fairsmoke.notebook import NotebookError
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.question import Trial


def _trial(trial: str, book: Book, _: Seer) -> Trial:
    try:
        return book.get(Trial, trial)
    except NotebookError as error:
        raise AppError(404, "no-trial", N_("There is no such trial.")) from error


FoundTrial = Annotated[Trial, Depends(_trial)]
"""The trial that the address names (``{trial}``); only for who may see trials."""


def _cook(cook: str, trial: FoundTrial, book: Book) -> Cook:
    try:
        return book.get(Cook, cook, trial=trial.id)
    except NotebookError as error:
        raise AppError(404, "no-cook", N_("There is no such cook.")) from error


FoundCook = Annotated[Cook, Depends(_cook)]
"""The cook that the address names (``{trial}`` and ``{cook}``)."""
