"""Runs the app on a notebook in a process of its own, as ``fairsmoke serve`` does, to be killed.

Arguments: notebook, port, and perhaps the folder of an authority, to serve over TLS with it.
Prints the sign-in link as one line when it listens.
"""

import sys
from pathlib import Path

from fairsmoke.app.serving import serve
from fairsmoke.app.settings import Settings
from fairsmoke.app.tls.own import own_tls
from fairsmoke.notebook import Notebook


def main() -> None:
    path, port = Path(sys.argv[1]), int(sys.argv[2])
    own = own_tls(Path(sys.argv[3]), "127.0.0.1", ()) if sys.argv[3:] else None
    with Notebook.open(path) as book:
        serve(
            book,
            Settings(path),
            listen="127.0.0.1",
            port=port,
            own=own,
            tell=lambda started: print(started.link, flush=True),
        )


if __name__ == "__main__":
    main()
