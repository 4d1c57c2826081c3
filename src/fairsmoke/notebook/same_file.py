"""Is what is open still the file of that name? One that was moved or removed takes no more writes.

SQLite goes on writing into a file whatever becomes of its name: what is acknowledged then is in no
notebook that anybody finds again.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Self

from fairsmoke.messages.message import N_, OnFace
from fairsmoke.notebook.errors import StorageError


@dataclass(frozen=True)
class FileIdentity:
    """Which file lies at a path: its device and its inode."""

    path: Path
    device: int
    inode: int

    @classmethod
    def of(cls, path: Path) -> Self:
        """Return which file lies there now. Raises OSError when there is none."""
        found = path.stat()
        return cls(path, found.st_dev, found.st_ino)

    def check(self) -> None:
        """Raise StorageError when another file, or none, lies at the path."""
        try:
            same = FileIdentity.of(self.path) == self
        except OSError:
            same = False
        if not same:
            raise StorageError(
                N_(
                    "%(path)s was moved, removed or replaced while it was open: nothing more is "
                    "written. Stop the program, put the file back, or restore a "
                    "copy%(how)s, and start again",
                    path=self.path,
                    how=OnFace(" with 'fairsmoke restore'", ""),
                )
            )
