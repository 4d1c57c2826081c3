"""A running app in a process of its own, for tests that need a network, a browser or a kill."""

import signal
import subprocess
import sys
from pathlib import Path

import httpx2

from fairsmoke.app.security.csrf import csrf_token_for

HERE = Path(__file__).parent


class Server:
    """The app on a notebook. ``kill`` ends it as a power cut would; ``start`` begins again.

    ``authority`` is the folder of an authority, to serve over TLS with it.
    """

    def __init__(self, notebook: Path, authority: Path | None = None) -> None:
        self.notebook = notebook
        self.watch: Path | None = None
        self.authority = authority
        self.port = 0
        self.link = ""
        self._process: subprocess.Popen[str] | None = None

    @property
    def address(self) -> str:
        return f"{'https' if self.authority else 'http'}://127.0.0.1:{self.port}"

    @property
    def pid(self) -> int:
        assert self._process is not None
        return self._process.pid

    def start(self) -> "Server":
        self._process = subprocess.Popen(
            [
                *(sys.executable, "-W", "error", HERE / "live.py", self.notebook, str(self.port)),
                *((f"--watch={self.watch}",) if self.watch else ()),
                *([self.authority] if self.authority else []),
            ],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self._process.stdout is not None
        self.link = self._process.stdout.readline().strip()
        assert self.link, "the app did not start"
        self.port = int(self.link.split("/")[2].rpartition(":")[2])
        return self

    def kill(self) -> None:
        self._end(signal.SIGKILL)

    def stop(self) -> int:
        return self._end(signal.SIGINT)

    def _end(self, how: signal.Signals) -> int:
        assert self._process is not None
        self._process.send_signal(how)
        code = self._process.wait(20)
        assert self._process.stdout is not None
        self._process.stdout.close()
        self._process = None
        return code

    def close(self) -> None:
        if self._process is not None:
            self.kill()

    def client(self) -> httpx2.Client:
        """Return a client signed in by the link that was printed."""
        made = httpx2.Client(base_url=self.address, timeout=20)
        made.get("/sign-in")
        form = {"csrf": csrf_token_for(made.cookies["fairsmoke"])}
        assert made.post(self.link.removeprefix(self.address), data=form).status_code == 303
        made.headers["X-CSRF-Token"] = csrf_token_for(made.cookies["fairsmoke"])
        return made
