"""A notebook out to a folder of open files, and back the same."""

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection

from fairsmoke.messages.message import N_
from fairsmoke.notebook.errors import FolderError, NotebookError
from fairsmoke.notebook.folder.content import FolderContent, load_shared, load_trials, used_by
from fairsmoke.notebook.folder.importing import Imported, take_in_folder
from fairsmoke.notebook.folder.photos import photo_files
from fairsmoke.notebook.folder.reading import read_folder
from fairsmoke.notebook.folder.writing import FolderWriter, kitchen_zone, root_files, trial_files
from fairsmoke.notebook.store import Notebook
from fairsmoke.notebook.writer import Stamp

__all__ = [
    "FolderContent",
    "Imported",
    "export_notebook",
    "export_trial",
    "import_folder",
    "notebook_of_folder",
    "read_folder",
]


AroundImport = Callable[[Connection, FolderContent], AbstractContextManager[None]]
"""What the records of a folder are written in: it sees the notebook before and after."""


def export_notebook(notebook: Notebook, folder: Path | str, *, overwrite: bool = False) -> Path:
    """Write everything in a notebook to a folder, which may be that of an earlier export.

    Raises FolderError when the folder holds something else or was changed by hand since
    (``overwrite`` takes the latter).
    """
    writer = FolderWriter(Path(folder), overwrite=overwrite)
    with notebook.reading() as connection:
        shared, history = load_shared(connection)
        writer.put(root_files(shared, history))
        for trial in load_trials(connection):
            writer.put(trial_files(trial, kitchen_zone(shared)))
            writer.put(photo_files(connection, trial.trial.id, kitchen_zone(shared)))
    writer.finish()
    return writer.folder


def export_trial(
    notebook: Notebook, trial: str, folder: Path | str, *, overwrite: bool = False
) -> Path:
    """Write one trial, with what it uses of the kitchen's things, to a folder.

    Raises NotebookError when there is no such trial, FolderError as ``export_notebook`` does.
    """
    writer = FolderWriter(Path(folder), overwrite=overwrite)
    with notebook.reading() as connection:
        found = next(load_trials(connection, trial), None)
        if found is None:
            raise NotebookError(N_("there is no trial '%(trial)s'", trial=trial))
        shared, history = load_shared(connection, used_by(found))
        writer.put(root_files(shared, history))
        writer.put(trial_files(found, kitchen_zone(shared)))
        writer.put(photo_files(connection, trial, kitchen_zone(shared)))
    writer.finish()
    return writer.folder


def import_folder(
    notebook: Notebook,
    folder: Path | str,
    *,
    by: str = "",
    why: str = "",
    around: AroundImport | None = None,
) -> Imported:
    """Bring a notebook to what a folder says, wholly or not at all.

    What the folder does not mention stays; what is the same is left alone; a record that an
    exported folder's history has and its files lack was taken out by a person, and is struck out.
    The records are written within ``around``: when that raises, nothing is taken in.
    Raises FolderError with every problem of the folder, CorrectionError when something recorded
    would change and no reason is given.
    """
    content = read_folder(folder)
    with notebook.writing() as connection:
        return _taken_in(connection, content, Path(folder), by, why, around)


def _taken_in(
    connection: Connection,
    content: FolderContent,
    folder: Path,
    by: str,
    why: str,
    around: AroundImport | None,
) -> Imported:
    stamp = Stamp(datetime.now(UTC), by, why)
    try:
        with around(connection, content) if around is not None else nullcontext():
            return take_in_folder(connection, content, folder, stamp)
    except FolderError:
        raise
    except NotebookError as error:
        # The same kind of error, so that a missing reason can be told from a folder's fault.
        raise type(error)(f"{folder}: {error}") from error


def notebook_of_folder(
    path: Path | str, folder: Path | str, *, by: str = "", around: AroundImport | None = None
) -> Notebook:
    """Make a new notebook of a folder and open it; nothing is made when the folder is unsound.

    ``around`` as for `import_folder`.
    """
    content = read_folder(folder)
    notebook = Notebook.create(path)
    try:
        with notebook.writing() as connection:
            _taken_in(connection, content, Path(folder), by, "", around)
    except BaseException:
        notebook.close()
        Path(path).unlink()
        raise
    return notebook
