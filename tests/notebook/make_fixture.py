"""Makes the notebook of the present version that later versions must open.

Run once when a version of the tables is finished: python tests/notebook/make_fixture.py
"""

import gzip
import tempfile
from pathlib import Path

from fairsmoke.notebook import schema
from fairsmoke.notebook.folder.transfer import notebook_of_folder

DATA = Path(__file__).parent / "data"


def main() -> None:
    target = DATA / f"version-{schema.VERSIONS[-1]}.db.gz"
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "notebook.db"
        trial = "paper-or-bare"
        with notebook_of_folder(path, DATA / "by-hand", by="Ada") as notebook:
            changes = {"at": "2026-05-03 05:15"}
            notebook.correct(
                "event", "first-fire-event-2", changes, why="read off the wrong clock", trial=trial
            )
            notebook.strike("ballot", "first-fire-ballot-1", why="not blind", trial=trial)
            digest = notebook.digest()
        target.write_bytes(gzip.compress(path.read_bytes(), 9, mtime=0))
    print(f"{target}: {target.stat().st_size} bytes, digest {digest}")


if __name__ == "__main__":
    main()
