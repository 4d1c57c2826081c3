"""The layouts that a notebook knows: how files laid out alike were read, and whose probes."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from fairsmoke.intake.layout import Mapping as Layout
from fairsmoke.intake.read import LoggerFile
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, InputField
from fairsmoke.notebook import Notebook
from fairsmoke.trial.kitchen import KnownLayout


@dataclass(frozen=True)
class LayoutAnswer:
    """All that reading a logger's file needs from a person.

    ``probes`` tells which probe each of the file's names is; a name that is a probe's own handle
    or name need not be there. A name given as "" is not taken in.
    """

    layout: Layout
    probes: Mapping[str, str] = field(default_factory=dict)
    start: datetime | None = None


@dataclass(frozen=True)
class LayoutChange:
    """A layout to be recorded, and why it changes ("" when it is new)."""

    record: KnownLayout
    why: str


def known_answer(notebook: Notebook, layout: str) -> LayoutAnswer | None:
    """Return how files of that layout were read before, None when there was none."""
    for known in notebook.list(KnownLayout):
        if known.id == layout:
            content = json.loads(known.mapping)
            return LayoutAnswer(Layout.from_dict(content["layout"]), content["probes"])
    return None


def check_not_struck(notebook: Notebook, layout: str, why: str) -> None:
    """Raise JobError when that layout was struck out and no reason is given to know it again."""
    states = notebook.history(KnownLayout, layout)
    if states and states[-1].struck and not why.strip():
        raise JobError(
            N_(
                "how files like this one are laid out was recorded and then struck out; "
                "take it in with a reason (%(why)s), so that the new layout takes its place",
                why=InputField("why"),
            )
        )


def layout_to_keep(
    notebook: Notebook, found: LoggerFile, answer: LayoutAnswer, *, by: str, why: str, now: datetime
) -> LayoutChange | None:
    """Return what the notebook shall know of the file's layout, None when it knows that already.

    Without a reason, probes named otherwise than before count for this file alone.
    Raises JobError when the layout was known otherwise, or struck out, and no reason is given.
    """
    check_not_struck(notebook, found.layout, why)
    earlier = known_answer(notebook, found.layout)
    probes = dict(answer.probes)
    if earlier is not None:
        both = (earlier.probes, probes) if why.strip() else (probes, earlier.probes)
        probes = {**both[0], **both[1]}
        if earlier.layout == answer.layout and earlier.probes == probes:
            return None
        if earlier.layout != answer.layout and not why.strip():
            raise JobError(
                N_(
                    "files laid out like this one are known to be read otherwise "
                    "(%(differences)s); say the reason (%(why)s) to correct that, or take the "
                    "file in without answers or a mapping",
                    why=InputField("why"),
                    differences=_differences(earlier.layout, answer.layout),
                )
            )
        why = why.strip() or "further probes of files laid out alike were named"
    content = {"layout": answer.layout.to_dict(), "probes": probes}
    name = ", ".join(dict.fromkeys(series.probe for series in found.series))[:200] or "no probes"
    mapping = json.dumps(content, ensure_ascii=False)
    return LayoutChange(
        KnownLayout(id=found.layout, name=name, mapping=mapping, confirmed=now, by=by), why
    )


def _differences(earlier: Layout, later: Layout) -> str:
    old, new = earlier.to_dict(), later.to_dict()
    columns = [
        f"column {number}"
        for number, (one, other) in enumerate(zip(earlier.columns, later.columns, strict=False), 1)
        if one != other
    ]
    fields = sorted((old.keys() | new.keys()) - {"columns"})
    changed = [
        f"{key}: {old.get(key, 'not said')}, now {new.get(key, 'not said')}"
        for key in fields
        if old.get(key) != new.get(key)
    ]
    return "; ".join(changed + columns)
