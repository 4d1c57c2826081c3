"""The history in a folder: one revision a line, as JSON, which is YAML as well.

It is written by the program and not meant to be edited: what it says happened, happened.
"""

import json
import re
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from fairsmoke.messages.errors import InputError, message_of
from fairsmoke.messages.message import N_
from fairsmoke.notebook.errors import FolderProblem
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import Revision

# Characters that JSON lets stand in a text and YAML does not.
_NOT_IN_YAML = re.compile("[\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")


def write_history(history: Iterable[Revision]) -> bytes:
    """Return the lines of a history file, oldest first."""
    return b"".join(_line(revision) for revision in history)


def _line(revision: Revision) -> bytes:
    entry: dict[str, Any] = {
        "kind": revision.key.kind,
        "id": revision.key.handle,
        "number": revision.number,
        "recorded": revision.recorded_at.isoformat(),
        "by": revision.by,
        "why": revision.why,
        "struck": revision.struck,
        "body": revision.body,
    }
    text = json.dumps(entry, ensure_ascii=False)
    text = _NOT_IN_YAML.sub(lambda found: f"\\u{ord(found[0]):04x}", text)
    return f"- {text}\n".encode()


def read_history(
    content: bytes, file: str, trial_id: str, problems: list[FolderProblem]
) -> tuple[Revision, ...]:
    """Return the revisions in a history file; what is wrong joins ``problems``."""
    found: list[Revision] = []
    numbers: dict[object, int] = {}
    for line, raw in enumerate(content.split(b"\n"), 1):
        if not raw.strip() or raw.lstrip().startswith(b"#"):
            continue
        try:
            revision = _revision(raw.decode(), trial_id)
        except (ValueError, KeyError, TypeError, RecursionError) as error:
            reason = N_(
                "not an entry as Fairsmoke writes it (%(error)s); restore the line as it was",
                error=message_of(error),
            )
            problems.append(FolderProblem(file, line, "", reason))
            continue
        expected = numbers.get(revision.key, 0) + 1
        if revision.number != expected:
            reason = N_(
                "%(revision)s: revision %(number)s where %(expected)s should be",
                revision=revision.key,
                number=revision.number,
                expected=expected,
            )
            problems.append(
                FolderProblem(
                    file, line, "", N_("%(reason)s; restore the missing lines", reason=reason)
                )
            )
        numbers[revision.key] = revision.number
        found.append(revision)
    return tuple(found)


def _revision(text: str, trial_id: str) -> Revision:
    if not text.startswith("- "):
        raise InputError(N_("it does not begin with '- '"))
    entry = json.loads(text[2:])
    kind = KINDS[entry["kind"]]
    if (kind.of_trial or kind.name == "trial") != bool(trial_id):
        raise InputError(N_("a %(kind)s does not belong in this file", kind=kind.name))
    if kind.name == "trial" and entry["id"] != trial_id:
        raise InputError(N_("trial '%(entry)s' does not belong in this folder", entry=entry["id"]))
    recorded_at = datetime.fromisoformat(entry["recorded"])
    if recorded_at.tzinfo is None:
        raise InputError(N_("'recorded' has no offset"))
    for name, wanted in (
        ("id", str),
        ("number", int),
        ("by", str),
        ("why", str),
        ("struck", bool),
        ("body", dict),
    ):
        if not isinstance(entry[name], wanted):
            raise TypeError(f"'{name}' is not a {wanted.__name__}")
    return Revision(
        kind.key(trial_id, entry["id"]),
        entry["number"],
        recorded_at,
        entry["by"],
        entry["why"],
        entry["struck"],
        entry["body"],
    )
