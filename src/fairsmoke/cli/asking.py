"""Show how a logger's file was recognised, and ask a person what only a person can tell."""

from collections.abc import Mapping
from pathlib import Path

import typer
from rich.markup import escape

from fairsmoke.cli.screen import at_keyboard, complain, out, say, table
from fairsmoke.intake.layout import Mapping as Layout
from fairsmoke.intake.recognise import Question, Recognition, recognise
from fairsmoke.jobs.errors import JobError
from fairsmoke.jobs.take_in import Answer

OPEN_TO_DEFAULT = frozenset({"zone"})
"""Questions that the cook answers unless a person says otherwise: its own time zone."""
NOT_OF_LAYOUT = frozenset({"start"})


def mapping_of(path: Path) -> Layout:
    """Read a mapping written by hand. Raises JobError or IntakeError for what is wrong in it."""
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    try:
        content = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    except YAMLError as error:
        raise JobError(f"{path} is not YAML: {error}") from error
    if not isinstance(content, dict):
        raise JobError(f"{path}: write a mapping as 'key: value' lines (docs/logger-files.md)")
    return Layout.from_dict(content)


def show_recognition(found: Recognition) -> None:
    """Print what was recognised, the first rows, and the open questions."""
    seen = table("what", "taken as", "how sure", "because")
    for decision in found.decisions:
        row = (decision.about, decision.choice, decision.sure, decision.reason)
        seen.add_row(*(escape(text) for text in row))
    out.print(seen)
    rows = table(*(escape(name) for name in found.header or found.preview[0]), title="First rows")
    for fields in found.preview[:5]:
        rows.add_row(*(escape(field) for field in fields))
    out.print(rows)
    for question in found.questions:
        say(f"Asked: {_asked(question)}")


def answer_for(
    data: bytes,
    known: Answer | None,
    answers: Mapping[str, str],
    probes: Mapping[str, str],
    *,
    yes: bool,
) -> Answer | None:
    """Return how to read a file: as such files were read before, as told, or as a person answers.

    None when something must be asked and nobody is at the keyboard; what is asked was then told.
    """
    if known is not None and not answers:
        return Answer(known.layout, {**known.probes, **probes})
    found = recognise(data)
    given = dict(answers)
    open_questions = [
        question
        for question in found.questions
        if question.about not in given and question.about not in OPEN_TO_DEFAULT | NOT_OF_LAYOUT
    ]
    if not at_keyboard():
        if open_questions:
            for question in open_questions:
                complain(f"Asked: {_asked(question)}")
                complain(f"  say --answer '{question.about}=…'")
            return None
        if not yes:
            complain("This layout is new. Look at it with 'fairsmoke look', then say --yes.")
            return None
        return Answer(found.answered(given), probes)
    show_recognition(found)
    for question in open_questions:
        given[question.about] = _ask(question)
    if not yes and not typer.confirm("Is the file laid out like that?", default=True):
        complain("Then say how with --mapping (docs/logger-files.md).")
        return None
    return Answer(found.answered(given), probes)


def _asked(question: Question) -> str:
    choices = f" [{', '.join(question.choices)}]" if question.choices else ""
    hint = f" ({question.hint})" if question.hint else ""
    return f"{question.text}{choices}{hint}"


def _ask(question: Question) -> str:
    while True:
        default = question.suggestion if question.suggestion in question.choices else None
        given = str(typer.prompt(_asked(question), default=default)).strip()
        if not question.choices or given in question.choices:
            return given
        say(f"Answer with one of: {', '.join(question.choices)}")
