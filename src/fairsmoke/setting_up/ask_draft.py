"""Answers at the keyboard, kept beside the notebook until the trial is recorded."""

import contextlib
import json
from dataclasses import fields
from pathlib import Path
from typing import Any

from fairsmoke.setting_up.ask_answers import WrittenAnswers
from fairsmoke.setting_up.method import Method

_METHOD = frozenset(one.name for one in fields(Method))


class AskDraft:
    """The answers so far by the names of their questions: a text, or the texts of a list.

    What cannot be read is as good as no draft.
    """

    def __init__(self, notebook: Path) -> None:
        self.path = notebook.with_name(f"{notebook.name}.ask-draft.json")
        self.answers: dict[str, str | list[str]] = {}
        with contextlib.suppress(OSError, ValueError):
            found = json.loads(self.path.read_text(encoding="utf-8"))
            if isinstance(found, dict):
                self.answers = {name: said for name, said in found.items() if _is_answer(said)}

    def text(self, name: str) -> str:
        """Return the answer to a question with one, "" when it was not answered."""
        said = self.answers.get(name, "")
        return said if isinstance(said, str) else ""

    def keep(self, name: str, said: str | list[str]) -> None:
        """Keep an answer, at once and whole."""
        self.answers[name] = said
        beside = self.path.with_name(f"{self.path.name}.part")
        beside.write_text(json.dumps(self.answers, ensure_ascii=False, indent=2), encoding="utf-8")
        beside.replace(self.path)

    def discard(self) -> None:
        """Throw the answers away: they were recorded, or are not wanted."""
        self.answers = {}
        self.path.unlink(missing_ok=True)

    def written(self) -> WrittenAnswers:
        """Return the answers as far as they were given."""
        said: dict[str, Any] = dict(self.answers)
        method = Method(**{name: said.pop(name) for name in _METHOD & said.keys()})
        blind = {"yes": True, "no": False}.get(str(said.pop("blind", "")))
        known = {one.name for one in fields(WrittenAnswers)}
        kept = {name: value for name, value in said.items() if name in known}
        return WrittenAnswers(**kept, method=method, blind=blind)


def _is_answer(said: object) -> bool:
    return isinstance(said, str) or (
        isinstance(said, list) and all(isinstance(one, str) for one in said)
    )
