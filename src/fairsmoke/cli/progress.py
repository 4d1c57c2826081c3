"""How far a run is: a bar on the error stream, which appears once the run has taken a second."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock, Timer

from rich.progress import BarColumn, Progress, ProgressColumn, Task, TextColumn, TimeRemainingColumn
from rich.text import Text

from fairsmoke.cli.screen import complain, err, said
from fairsmoke.messages.message import Words

APPEARS_AFTER_S = 1.0
"""What is done sooner is answered without a bar that only flickers."""


class _CountLeft(ProgressColumn):
    """How many are done of how many, and the time left; empty while no number is known."""

    def __init__(self) -> None:
        super().__init__()
        self._left = TimeRemainingColumn()

    def render(self, task: Task) -> Text:
        if task.total is None:
            return Text("")
        return Text(f"{task.completed:.0f}/{task.total:.0f} ") + self._left.render(task)


@contextmanager
def far_along(what: Words) -> Iterator[Callable[[int, int], None]]:
    """Show how far a long run is, and give what it is told with: how many are done, of how many.

    Nothing appears in the first `APPEARS_AFTER_S`, and nothing stays when the run ends. Where the
    error stream is no terminal a line says once what is done. Standard output is left alone.
    """
    words = said(what)
    columns = (TextColumn("{task.description}", markup=False), BarColumn(), _CountLeft())
    progress = Progress(*columns, console=err, transient=True, redirect_stdout=False)
    task = progress.add_task(words, total=None)
    appearing, ended = Lock(), False

    def appear() -> None:
        # The timer may run out while the run ends: a bar that starts then would never be stopped.
        with appearing:
            if ended:
                return
            if err.is_terminal:
                progress.start()
            else:
                complain(f"{words} …")

    timer = Timer(APPEARS_AFTER_S, appear)
    timer.daemon = True
    timer.start()
    try:
        yield lambda done, of: progress.update(task, completed=done, total=of)
    finally:
        timer.cancel()
        with appearing:
            ended = True
        if progress.live.is_started:
            progress.stop()
