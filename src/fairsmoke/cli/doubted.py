"""What hardly can be true is asked about in the shell, with the likely values to choose from."""

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from fairsmoke.cli.screen import NEEDS_ANSWER, at_keyboard, complain, prompted, say
from fairsmoke.messages.errors import message_of
from fairsmoke.messages.message import N_, T_, Message, Words, placed

if TYPE_CHECKING:
    from fairsmoke.arriving.folder_rows import RowAskedAbout

T = TypeVar("T")

InsistOption = Annotated[
    bool,
    typer.Option(
        "--insist",
        help=T_("Keep what hardly can be true; it is marked as doubted and counts in no verdict."),
    ),
]

_KEEP, _LEAVE = "k", "n"


def settled(attempt: Callable[[Mapping[str, str], bool], T], *, insist: bool) -> T:
    """Do what may be asked about, and return what came of it.

    ``attempt`` is given the fields to change and whether the person insists; it raises DoubtedError
    before anything is written. Leaves with `NEEDS_ANSWER` when nobody is at the keyboard, or the
    person would rather look again.
    """
    from fairsmoke.arriving.doubted import DoubtedError

    changes: dict[str, str] = {}
    while True:
        try:
            return attempt(changes, insist)
        except DoubtedError as error:
            if not at_keyboard():
                complain(message_of(error))
                raise typer.Exit(NEEDS_ANSWER) from error
            likely = error.asked[0].likely if len(error.asked) == 1 else ()
            for one in error.asked:
                say(one.words)
            answer = _chosen([one.says for one in likely])
            if answer is None:
                insist = True
            else:
                changes |= likely[answer].changes


def _chosen(likely: Sequence[Words]) -> int | None:
    """Ask which value was meant; return its place, None to keep what was said."""
    for number, says in enumerate(likely, 1):
        say(N_("  %(number)s: %(says)s was meant", number=str(number), says=says))
    say(N_("  k: keep it, marked as doubted; n: record nothing"))
    while True:
        given = prompted(N_("Which?"), default=_LEAVE).strip().casefold()
        if given == _KEEP:
            return None
        if given == _LEAVE:
            say(N_("Nothing was recorded."))
            raise typer.Exit(NEEDS_ANSWER)
        if given.isdigit() and 1 <= int(given) <= len(likely):
            return int(given) - 1
        say(N_("%(given)s is none of them.", given=given or "–"))


def rows_asked_about(rows: "Sequence[RowAskedAbout]", *, insist: bool) -> None:
    """Name the rows of a folder that hardly can be true; leave unless the person keeps them."""
    for row in rows:
        complain(row.at.words)
    kept: Message = N_(
        "They are kept, marked as doubted, and count in no verdict until somebody confirms "
        "(fairsmoke confirm), corrects or strikes them."
    )
    if insist:
        complain(kept)
        return
    if at_keyboard():
        from fairsmoke.cli.file_layout import agrees

        if agrees(N_("Take the folder in all the same, with these as doubted?"), default="no"):
            say(kept)
            return
    else:
        complain(
            placed(
                N_("Nothing was taken in"),
                N_("mend the rows, or take them in as doubted with --insist"),
            )
        )
    raise typer.Exit(NEEDS_ANSWER)
