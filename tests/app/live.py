"""Runs the app on a notebook in a process of its own, as ``fairsmoke serve`` does, to be killed.

Arguments: notebook, port, perhaps ``--watch=FOLDER``, and perhaps the folder of an authority, to
serve over TLS with it. Prints the sign-in link as one line when it listens.
"""

import sys
from pathlib import Path

from fairsmoke.app.serving import serve
from fairsmoke.app.settings import Settings
from fairsmoke.app.tls.own import own_tls
from fairsmoke.notebook import Notebook


def main() -> None:
    path, port, *more = sys.argv[1:]
    watch = [Path(one.removeprefix("--watch=")) for one in more if one.startswith("--watch=")]
    authority = [Path(one) for one in more if not one.startswith("--")]
    own = own_tls(authority[0], "127.0.0.1", ()) if authority else None
    with Notebook.open(path) as book:
        serve(
            book,
            Settings(Path(path), watch=watch[0] if watch else None),
            listen="127.0.0.1",
            port=int(port),
            own=own,
            tell=lambda started: print(started.link, flush=True),
        )


if __name__ == "__main__":
    main()
