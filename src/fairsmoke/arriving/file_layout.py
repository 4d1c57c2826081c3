"""How a logger's file is read, as a person settles it on a page: the same questions as `take-in`.

A page has no memory: each look makes everything anew from the file and the fields of the form.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from fairsmoke.arriving.known_layouts import LayoutAnswer, known_answer
from fairsmoke.arriving.probe_names import likeliest, probes_of
from fairsmoke.arriving.take_in import read_for
from fairsmoke.intake.answers import choice_meant
from fairsmoke.intake.layout import Mapping as Layout
from fairsmoke.intake.read import LoggerFile
from fairsmoke.intake.recognise import Question, Recognition, recognise
from fairsmoke.intake.text import IntakeError
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Probe

ANSWER, USE, UNIT, PROBE, START = "answer:", "use:", "unit:", "probe:", "start"
LEAVE_OUT = "-"
"""What a form says for a name that is not taken in; nothing said is an empty text."""
_MAY_BE_MENDED = ("value", "ignore")


@dataclass(frozen=True)
class ColumnSeen:
    """One column as it is taken now, with its first cells; ``fixed`` when it cannot be mended."""

    number: int
    header: str
    use: str
    unit: str | None
    cells: tuple[str, ...]
    fixed: bool


@dataclass(frozen=True)
class NameSeen:
    """One name of the file: its probe ("" left out, None not said), and what lies near."""

    name: str
    probe: str | None
    near: tuple[str, ...]


@dataclass(frozen=True)
class Look:
    """What is known of a file so far. It can be taken in when ``answer`` is there."""

    recognition: Recognition
    columns: tuple[ColumnSeen, ...]
    questions: tuple[Question, ...]
    needs_start: bool
    known: bool
    names: tuple[NameSeen, ...] = ()
    read: LoggerFile | None = None
    answer: LayoutAnswer | None = None
    wrong: tuple[str, ...] = ()
    fields: Mapping[str, str] = field(default_factory=dict)


def look(
    book: Notebook, cook: Cook, data: bytes, file_name: str, fields: Mapping[str, str]
) -> Look:
    """Look at a file with what a form says of it.

    Raises IntakeError when it is no logger's file at all; what a person can mend is in ``wrong``.
    """
    found = recognise(data)
    known = known_answer(book, found.layout)
    wrong: list[str] = []
    layout, questions = _layout(found, known, fields, wrong)
    start = _start(fields.get(START, ""), wrong)
    needs_start = layout.needs_start or any(q.about == "time_form" for q in questions)
    read = None
    settled = not questions and not layout.open_points and not (layout.needs_start and not start)
    if settled and not wrong:
        try:
            read = read_for(cook, data, file_name, LayoutAnswer(layout, {}, start))
        except (IntakeError, JobError) as error:
            wrong.append(str(error))
    probes = book.list(Probe)
    given = dict(known.probes) if known else {}
    for key, value in fields.items():
        if key.startswith(PROBE) and value:
            given[key.removeprefix(PROBE)] = "" if value == LEAVE_OUT else value
    series = tuple(dict.fromkeys(one.probe for one in read.series)) if read else ()
    names = probes_of(series or found.names, given, probes)
    whole = read is not None and all(probe is not None for probe in names.values())
    said = {name: given[name] for name in names if name in given}
    return Look(
        found,
        _columns(found, layout),
        tuple(questions),
        needs_start,
        known is not None,
        tuple(
            NameSeen(name, probe, likeliest(name, probes) if probe is None else ())
            for name, probe in names.items()
        ),
        read,
        LayoutAnswer(layout, said, start) if whole else None,
        tuple(wrong),
        fields,
    )


def _layout(
    found: Recognition, known: LayoutAnswer | None, fields: Mapping[str, str], wrong: list[str]
) -> tuple[Layout, list[Question]]:
    """Return the layout with what the form says put in, and the questions that are open."""
    layout = known.layout if known else found.mapping
    asked = [] if known else [q for q in found.questions if q.about not in ("zone", "start")]
    left = []
    answers: dict[str, str] = {}
    for question in asked:
        given = fields.get(ANSWER + question.about, "").strip()
        meant = choice_meant(given, question.choices) if question.choices else given
        if meant:
            answers[question.about] = meant
        else:
            left.append(question)
    zone = fields.get(ANSWER + "zone", "").strip()
    if zone and found.zone_matters:
        answers["zone"] = zone
    try:
        if known is None:
            layout = found.answered(answers)
        elif zone:
            layout = layout.model_copy(update={"zone": zone})
        layout = _mended(layout, fields)
    except IntakeError as error:
        wrong.append(str(error))
    # A unit that was said in its column answers what was asked of it.
    open_points = layout.open_points
    left = [
        question
        for question in left
        if question.about.startswith("column")
        or any(point.partition(":")[0] == question.about.partition(":")[0] for point in open_points)
    ]
    return layout, left


def _mended(layout: Layout, fields: Mapping[str, str]) -> Layout:
    content: dict[str, Any] = layout.to_dict()
    changed = False
    for index, column in enumerate(layout.columns):
        use = fields.get(f"{USE}{index}", "")
        unit = fields.get(f"{UNIT}{index}", "")
        now = content["columns"][index]
        if use in _MAY_BE_MENDED and column.use in _MAY_BE_MENDED and use != column.use:
            now["use"], changed = use, True
        if unit and now.get("use") == "value" and unit != column.unit:
            now["unit"], changed = unit, True
    return Layout.from_dict(content) if changed else layout


def _columns(found: Recognition, layout: Layout) -> tuple[ColumnSeen, ...]:
    return tuple(
        ColumnSeen(
            index,
            column.header or f"{index + 1}",
            column.use,
            column.unit,
            tuple(row[index] for row in found.preview[:3] if index < len(row)),
            column.use not in _MAY_BE_MENDED,
        )
        for index, column in enumerate(layout.columns)
    )


def _start(text: str, wrong: list[str]) -> datetime | None:
    if not text.strip():
        return None
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError:
        wrong.append(f"the start {text!r}: write it as 2026-05-02 18:30")
        return None


def first_and_last(read: LoggerFile) -> Sequence[tuple[str, int, int, float, int, float]]:
    """Return for each series its name, count, and first and last time (ms) and value (°C)."""
    return [
        (
            one.probe,
            len(one.readings),
            int(one.readings.time_ms[0]),
            float(one.readings.value_c[0]),
            int(one.readings.time_ms[-1]),
            float(one.readings.value_c[-1]),
        )
        for one in read.series
        if len(one.readings)
    ]
