"""What can go wrong between people, folders and a notebook: always with a place and a mend."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_, Message, Words, stacked

RETRY_AFTER_S = 10.0
"""After so long whoever was refused by the disk is asked to come again."""


class NotebookError(InputError):
    """A notebook that cannot be opened, read or written as asked."""


class StorageError(NotebookError):
    """What the disk or another program did not allow now; the same may be done again later.

    Never the fault of what was to be written: whoever sent it keeps it and sends it again.
    """

    def __init__(self, message: Words = "") -> None:
        super().__init__(message, code="storage", kind="storage", retry_after_s=RETRY_AFTER_S)


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
    message: Words

    @property
    def words(self) -> Message:
        """The place and what is wrong there."""
        place: Words = self.file
        if self.line is not None:
            place = N_("%(file)s, line %(line)s", file=self.file, line=str(self.line))
        if self.key:
            return Message(
                "%(place)s: %(key)s: %(wrong)s",
                {"place": place, "key": self.key, "wrong": self.message},
            )
        return Message("%(place)s: %(wrong)s", {"place": place, "wrong": self.message})

    def __str__(self) -> str:
        return str(self.words)


class FolderError(NotebookError):
    """A folder that cannot be read or written. ``problems`` has every one that was found."""

    def __init__(self, problems: Sequence[FolderProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__(stacked([problem.words for problem in self.problems]))


def did_you_mean(word: str, known: Sequence[str]) -> Message:
    """Return "; did you mean '...'?" when a known word is close, else what is known here.

    >>> str(did_you_mean("peices", ["pieces", "cooks"]))
    "; did you mean 'pieces'?"
    """
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    if close:
        return N_("; did you mean '%(word)s'?", word=close[0])
    return N_("; known here: %(known)s", known=", ".join(known))
