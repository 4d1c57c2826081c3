"""Look into the notebook: show, list, history."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any
from zoneinfo import ZoneInfo

import typer

from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    JsonOption,
    NotebookOption,
    TrialOption,
    opened,
    owner_of,
    said,
    say,
    show_json,
    trial_meant,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, T_

if TYPE_CHECKING:
    from fairsmoke.notebook import Revision


def show(
    which: Annotated[
        str, typer.Argument(metavar="[TRIAL]", help=T_("Which trial; without one, all of them."))
    ] = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    as_json: JsonOption = False,
) -> None:
    """Show what the notebook holds, or one trial in it."""
    from fairsmoke.cli.overview import (
        notebook_overview,
        print_notebook,
        print_trial,
        trial_overview,
    )
    from fairsmoke.telling.plain_data import plain

    with opened(notebook) as book:
        if not (which or trial):
            content = notebook_overview(book)
            show_json(content) if as_json else print_notebook(content)
            return
        content = trial_overview(book, trial_meant(book, which or trial))
        show_json(plain(content)) if as_json else print_trial(content)


def list_records(
    kind: Annotated[
        str, typer.Argument(help=T_("event, weighing, piece, ballot, probe, source …"))
    ],
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    as_json: JsonOption = False,
) -> None:
    """List the records of one kind with their handles, as 'correct' and 'strike' want them."""
    from fairsmoke.trial.clock import time_zone
    from fairsmoke.trial.nouns import noun

    with opened(notebook) as book:
        zone = time_zone(book.kitchen.time_zone)
        records = book.list(kind, trial=owner_of(book, kind, trial))
    found = [record.to_file(zone) for record in records]
    if as_json:
        show_json(found)
        return
    for content in found:
        handle = content.pop("id", kind)
        say(f"{handle}  {', '.join(f'{key}: {_brief(v)}' for key, v in content.items())}")
    if not found:
        say(N_("No %(kind)s is recorded.", kind=noun(kind)))


def history(
    kind: Annotated[str, typer.Argument(help=T_("What kind of record; without one, all."))] = "",
    handle: Annotated[str, typer.Argument(help=T_("Its handle (id)."))] = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    as_json: JsonOption = False,
) -> None:
    """Show every state that records had: when, by whom and why they were changed."""
    from fairsmoke.telling.plain_data import plain
    from fairsmoke.trial.clock import time_zone

    with opened(notebook) as book:
        owner = owner_of(book, kind, trial) if kind else (trial or None)
        found = book.history(kind or None, handle or None, trial=owner)
        zone = time_zone(book.kitchen.time_zone)
    if handle and not found:
        raise JobError(
            N_(
                "no %(kind)s '%(handle)s' was ever recorded; 'fairsmoke list %(kind)s' has them",
                kind=kind,
                handle=handle,
            )
        )
    if as_json:
        show_json(plain(found))
        return
    for line in _told(found, zone):
        say(line)


def _told(found: "tuple[Revision, ...]", zone: ZoneInfo) -> Iterator[str]:
    """Yield each state with what changed since the one before, as files say it, local times."""
    from fairsmoke.telling.record_changes import changes_of

    before: dict[str, dict[str, Any]] = {}
    for one in found:
        name = str(one.key)
        content = _as_in_file(one, zone)
        what = N_("struck out") if one.struck else N_("corrected")
        if one.number == 1 and not one.struck:
            what = N_("recorded")
        if one.by:
            what = N_("%(what)s by %(by)s", what=what, by=one.by)
        why = f": {one.why}" if one.why else ""
        at = f"{one.recorded_at.astimezone(zone):%Y-%m-%d %H:%M}"
        yield f"{at}  {said(one.key.words)} {said(what)}{why}"
        earlier = before.get(name)
        if earlier is not None and not one.struck:
            for key, old, new in changes_of(earlier, content):
                yield f"    {key}: {_brief(old)} → {_brief(new)}"
        before[name] = content


def _as_in_file(one: "Revision", zone: ZoneInfo) -> dict[str, Any]:
    from fairsmoke.notebook.kinds import kind_of

    return kind_of(one.key.kind).model.model_validate(one.body).to_file(zone)


def _brief(value: object, longest: int = 60) -> str:
    """Write a value of a file on one line, cut when it is long."""
    from fairsmoke.telling.record_changes import value_line

    text = value_line(value) or said(N_("nothing"))
    return text if len(text) <= longest else f"{text[: longest - 1]}…"
