"""The child process of one job: reads its task from stdin, reports on stdout.

One line of JSON each: ``{"done": 3, "of": 10}``, and at the end ``{"result": …}``,
``{"problem": …}`` with a message, or ``{"stopped": true}``. It ends when stdin is closed: its app
is gone.
"""

import contextlib
import json
import os
import signal
import sys
import threading
from typing import Any

from fairsmoke.messages.errors import is_for_a_person, message_of

_NICER = 10


def _until_alone() -> None:
    """Wait for the end of stdin, which comes with the end of the app."""
    with contextlib.suppress(OSError, ValueError):
        sys.stdin.read()
    # Softly first: a simulation then keeps what it has run.
    os.kill(os.getpid(), signal.SIGINT)


def _say(**told: Any) -> None:
    sys.stdout.write(json.dumps(told) + "\n")
    sys.stdout.flush()


def main() -> int:
    """Do the task; return the exit code."""
    # First of all, whatever was inherited: an app in the background ignores Ctrl-C, its children
    # must not, nor may a stop that comes at once be lost.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, signal.default_int_handler)
    try:
        return _run()
    except KeyboardInterrupt:
        _say(stopped=True)
        return 0


def _run() -> int:
    task = json.loads(sys.stdin.readline())
    threading.Thread(target=_until_alone, daemon=True).start()
    with contextlib.suppress(OSError, AttributeError):
        os.nice(_NICER)
    # Threads inside one multiplication only get in each other's way.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Only now, so that the number of threads is heeded.
    from fairsmoke.answers.tasks import do
    from fairsmoke.telling.document import to_json

    try:
        _say(result=do(task, lambda done, of: _say(done=done, of=of)))
    except ValueError as error:
        if not is_for_a_person(error):
            raise
        _say(problem=to_json(message_of(error)))
    return 0


if __name__ == "__main__":
    code = main()
    sys.stdout.flush()
    # At once: a thread still waits on stdin, and nothing is left to be done.
    os._exit(code)
