"""Runs the app on a notebook in a process of its own, as ``fairsmoke serve`` does, to be killed.

Arguments: notebook, port, and perhaps a folder to watch. Prints the sign-in link as one line when it
listens.
"""

import sys
from pathlib import Path

from fairsmoke.app.serving import serve
from fairsmoke.app.settings import Settings
from fairsmoke.notebook import Notebook


def main() -> None:
    path, port = Path(sys.argv[1]), int(sys.argv[2])
    with Notebook.open(path) as book:
        serve(
            book,
            Settings(path, watch=Path(sys.argv[3]) if len(sys.argv) > 3 else None),
            listen="127.0.0.1",
            port=port,
            tell=lambda started: print(started.link, flush=True),
        )


if __name__ == "__main__":
    main()
