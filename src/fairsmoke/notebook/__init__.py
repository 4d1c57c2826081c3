"""Where records live: one SQLite file, in which nothing is overwritten; folders in and out."""

from fairsmoke.notebook.errors import (
    CorrectionError,
    FolderError,
    FolderProblem,
    NotebookError,
)
from fairsmoke.notebook.kinds import Key
from fairsmoke.notebook.readings import Span
from fairsmoke.notebook.rows import Revision
from fairsmoke.notebook.store import Notebook

__all__ = [
    "CorrectionError",
    "FolderError",
    "FolderProblem",
    "Key",
    "Notebook",
    "NotebookError",
    "Revision",
    "Span",
]
