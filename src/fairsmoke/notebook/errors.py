"""What can go wrong between people, folders and a notebook: always with a place and a mend."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from fairsmoke.messages.errors import InputError


class NotebookError(InputError):
    """A notebook that cannot be opened, read or written as asked."""


class CorrectionError(NotebookError):
    """A change of what was already recorded that lacks its reason or makes no sense."""


@dataclass(frozen=True)
class FolderProblem:
    """One thing that is wrong in a folder.

    ``file`` is relative to the folder, ``line`` counts from 1 (None: the file as a whole), ``key``
    is the path to the value inside the file, for instance ``events 3, at``.
    """

    file: str
    line: int | None
    key: str
    message: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        return f"{place}: {self.key}: {self.message}" if self.key else f"{place}: {self.message}"


class FolderError(NotebookError):
    """A folder that cannot be read or written. ``problems`` has every one that was found."""

    def __init__(self, problems: Sequence[FolderProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def did_you_mean(word: str, known: Sequence[str]) -> str:
    """Return "; did you mean '...'?" when a known word is close, else what is known here.

    >>> did_you_mean("peices", ["pieces", "cooks"])
    "; did you mean 'pieces'?"
    """
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if close:
        return f"; did you mean '{close[0]}'?"
    return f"; known here: {', '.join(known)}"
