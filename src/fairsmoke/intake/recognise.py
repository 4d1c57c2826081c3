"""Look at a logger's file and say how it can be read, why, and what only a person can tell."""

import re
from collections.abc import Mapping as Dict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import polars as pl

from fairsmoke.intake.answers import choice_meant
from fairsmoke.intake.columns import ColumnGuess, guess_columns, unit_hint
from fairsmoke.intake.layout import SEPARATORS, FileColumn, Mapping, layout_digest
from fairsmoke.intake.read import time_text
from fairsmoke.intake.structure import Structure, structure_of
from fairsmoke.intake.text import Encoding, IntakeError, blocks, guess_encoding, lines_of, text_of
from fairsmoke.intake.timeguess import TimeGuess, guess_times
from fairsmoke.messages.errors import message_of
from fairsmoke.messages.message import N_, Message, Words
from fairsmoke.trial.clock import ClockError, time_zone
from fairsmoke.trial.reading import ReadingUnit

PREVIEW_ROWS = 10

Sureness = Literal["certain", "likely", "guess"]


@dataclass(frozen=True)
class Decision:
    """One thing that was recognised: what it is about, the choice, why, and how sure that is."""

    about: str
    choice: Words
    reason: Words
    sure: Sureness


@dataclass(frozen=True)
class Question:
    """What only a person can tell.

    ``about`` is the key of the answer: "date_order", "time_form", "zone", "unit" for all probes
    or "unit: NAME", "column: NAME". An answer is one of ``choices``, or free where there are none.
    "start" is asked anew for each file and answered to ``read``. ``suggestion`` is a hint only.
    """

    about: str
    text: Words
    choices: tuple[str, ...] = ()
    suggestion: str | None = None
    hint: Words = ""

    @property
    def asked(self) -> Message:
        """The question with its choices and its hint, in one line."""
        choices = f" [{', '.join(self.choices)}]" if self.choices else ""
        values = {"text": self.text, "choices": choices, "hint": self.hint}
        return Message("%(text)s%(choices)s" + (" (%(hint)s)" if self.hint else ""), values)


@dataclass(frozen=True)
class Recognition:
    """How a file seems to be laid out. ``mapping`` is complete once ``questions`` are answered.

    ``layout`` is the digest by which a mapping that was confirmed before can be found again;
    ``header`` and ``preview`` are the first rows, split into their fields. ``names`` are those of
    the probes, as far as rows that were looked at name them. ``zone_matters`` unless each time
    carries its offset: a "zone" can then be answered, even if it is not asked.
    """

    mapping: Mapping
    layout: str
    decisions: tuple[Decision, ...]
    questions: tuple[Question, ...]
    header: tuple[str, ...]
    preview: tuple[tuple[str, ...], ...]
    names: tuple[str, ...]
    zone_matters: bool

    def answered(self, answers: Dict[str, str]) -> Mapping:
        """Return the mapping with the questions answered.

        Raises IntakeError when an answer is not to a question, or not one of its choices.
        """
        mapping = self.mapping
        asked = {question.about: question for question in self.questions}
        for about, answer in answers.items():
            if about == "start" or (
                about not in asked and not (about == "zone" and self.zone_matters)
            ):
                raise IntakeError(
                    N_(
                        "%(about)r is not asked here; asked are: %(asked)s",
                        about=about,
                        asked=", ".join(asked) or N_("nothing"),
                    )
                )
            choices = asked[about].choices if about in asked else ()
            meant = choice_meant(answer, choices) if choices else answer
            if meant is None:
                raise IntakeError(
                    N_(
                        "%(about)s: %(answer)r is not one of %(choices)s",
                        about=about,
                        answer=answer,
                        choices=", ".join(choices),
                    )
                )
            mapping = with_answer(mapping, about, meant)
        return mapping


def recognise(data: bytes) -> Recognition:
    """Propose how to read a logger's file.

    Raises IntakeError when it is not text, or when no times and readings are found in it.
    """
    encoding, encoding_reason = guess_encoding(data)
    lines = lines_of(text_of(data, encoding))
    structure = structure_of(lines)

    def whole(which: Sequence[int]) -> pl.Series:
        return _whole_columns(lines, structure, which)

    times = guess_times(structure, whole)
    columns = guess_columns(structure, times.uses)
    if all(guess.use != "value" for guess in columns):
        raise IntakeError(
            N_(
                "line %(first_row)s: no column of temperatures was found; give a mapping "
                "that says which columns hold them",
                first_row=structure.first_row + 1,
            )
        )
    mapping = _mapping(encoding, structure, times, columns)
    decisions = [
        Decision("encoding", encoding, encoding_reason, _sure(encoding in ("utf-8", "utf-16"))),
        *_layout_decisions(structure),
        *_time_decisions(times, mapping),
        *_column_decisions(mapping, columns),
    ]
    return Recognition(
        mapping=mapping,
        layout=layout_digest(mapping, time_text(structure.rows[0][1], mapping)),
        decisions=tuple(decisions),
        questions=(
            *_time_questions(times, mapping),
            *_column_questions(mapping, columns, structure),
        ),
        header=structure.header,
        preview=tuple(fields for _, fields in structure.rows[:PREVIEW_ROWS]),
        names=_names(mapping, structure),
        zone_matters=not times.has_offset,
    )


def _names(mapping: Mapping, structure: Structure) -> tuple[str, ...]:
    if not mapping.one_reading_a_row:
        return tuple(mapping.probe_name(index) for index in mapping.numbers("value"))
    (at,) = mapping.numbers("probe name")
    return tuple(dict.fromkeys(f[at].strip() for _, f in structure.rows if f[at].strip()))


def _sure(certain: bool) -> Sureness:
    return "certain" if certain else "likely"


def _whole_columns(lines: Sequence[str], structure: Structure, which: Sequence[int]) -> pl.Series:
    character = SEPARATORS[structure.separator]
    cells: list[str] = []
    for block in blocks(lines, structure.first_row, character, structure.width, max(which) + 1):
        if len(which) == 1:
            cells += block.columns[which[0]]
        else:
            cells += map(" ".join, zip(*(block.columns[i] for i in which), strict=True))
    return pl.Series(cells, dtype=pl.String)


def _mapping(
    encoding: Encoding, structure: Structure, times: TimeGuess, columns: Sequence[ColumnGuess]
) -> Mapping:
    has_header = structure.header_at is not None
    above = structure.first_row if structure.header_at is None else structure.header_at
    first_below = structure.first_row - above - has_header
    utc = any(re.search(r"\b(?:UTC|GMT)\b", structure.header[i], re.IGNORECASE) for i in times.uses)
    by_name = any(guess.use == "probe name" for guess in columns)
    unit_column = any(guess.use == "unit" for guess in columns)
    return Mapping(
        columns=tuple(
            FileColumn(
                header=header.strip(),
                use=guess.use,
                probe="" if by_name else guess.probe,
                unit=None if unit_column else guess.unit,
            )
            for header, guess in zip(structure.header, columns, strict=True)
        ),
        time_form=None if times.form_choices else times.form,
        date_order=times.order if len(times.orders) == 1 else None,
        twelve_hour=times.twelve_hour,
        zone="UTC" if utc and not times.has_offset else None,
        encoding=encoding,
        separator=structure.separator,
        decimal_mark="comma" if structure.decimal_mark == "comma" else "point",
        has_header=has_header,
        lines_above=above,
        lines_below=first_below,
    )


def _layout_decisions(structure: Structure) -> list[Decision]:
    mark = "," if structure.decimal_mark == "comma" else "."
    decimals = any(re.search(rf"[0-9]\{mark}[0-9]", cell) for _, f in structure.rows for cell in f)
    header = (
        N_("line %(line)s", line=structure.header_at + 1)
        if structure.header_at is not None
        else N_("there is none")
    )
    return [
        Decision(
            "separator",
            structure.separator,
            N_(
                "it splits the rows into %(width)s columns of times and numbers",
                width=structure.width,
            ),
            "certain",
        ),
        Decision(
            "decimal mark",
            structure.decimal_mark,
            N_("as in the numbers of this file")
            if decimals
            else N_("all numbers are whole, so far"),
            "certain" if decimals else "guess",
        ),
        Decision(
            "header",
            header,
            N_("the readings begin in line %(first_row)s", first_row=structure.first_row + 1),
            _sure(structure.header_at is not None),
        ),
    ]


def _time_decisions(times: TimeGuess, mapping: Mapping) -> list[Decision]:
    decisions = []
    if mapping.time_form:
        decisions.append(
            Decision("times", mapping.time_form, times.reason, _sure(not mapping.needs_start))
        )
    if mapping.date_order:
        decisions.append(Decision("date order", mapping.date_order, times.order_reason, "certain"))
    if mapping.zone:
        decisions.append(
            Decision("time zone", "UTC", N_("the header of the times says so"), "likely")
        )
    return decisions


def _column_decisions(mapping: Mapping, columns: Sequence[ColumnGuess]) -> list[Decision]:
    decisions = []
    for index, (column, guess) in enumerate(zip(mapping.columns, columns, strict=True)):
        about = f"column {index + 1}: {column.header}" if column.header else f"column {index + 1}"
        sure: Sureness = "guess" if guess.ask else "likely"
        decisions.append(Decision(about, column.use, guess.reason, sure))
        if column.unit:
            firm = "letter" not in str(guess.unit_reason) and "above" not in str(guess.unit_reason)
            decisions.append(Decision(about, column.unit, guess.unit_reason, _sure(firm)))
    return decisions


def _time_questions(times: TimeGuess, mapping: Mapping) -> list[Question]:
    questions = []
    if times.form_choices:
        questions.append(
            Question(
                "time_form",
                N_("What are the times? (%(reason)s)", reason=times.reason),
                times.form_choices,
                times.form,
            )
        )
    if len(times.orders) > 1:
        questions.append(
            Question(
                "date_order",
                N_("In which order are the dates written? (%(reason)s)", reason=times.reason),
                times.orders,
                times.order,
                times.order_reason,
            )
        )
    local = times.form in ("date and clock", "clock") or "clock" in times.form_choices
    if local and not times.has_offset and mapping.zone is None:
        questions.append(
            Question(
                "zone",
                N_("In which time zone was the logger's clock set?"),
                hint=N_("that of the cook, unless you say otherwise"),
            )
        )
    counted = times.form is None or times.form.startswith(("elapsed", "clock"))
    if counted:
        questions.append(Question("start", N_("On which day, and when, does this file begin?")))
    return questions


def _column_questions(
    mapping: Mapping, columns: Sequence[ColumnGuess], structure: Structure
) -> list[Question]:
    values = mapping.numbers("value")
    questions = [
        Question(
            f"column: {mapping.probe_name(index)}",
            N_("Column %(index)s has no header: is it a probe?", index=index + 1),
            ("value", "ignore"),
            "value",
            columns[index].reason,
        )
        for index in values
        if columns[index].ask
    ]
    unknown = [i for i in values if mapping.columns[i].unit is None]
    if unknown and not mapping.numbers("unit"):
        hint, why = unit_hint(structure, unknown)
        names = ", ".join(mapping.probe_name(i) for i in unknown)
        abouts = (
            ["unit"]
            if len(unknown) == len(values)
            else [f"unit: {mapping.probe_name(i)}" for i in unknown]
        )
        for about in abouts:
            whose = about.removeprefix("unit: ") if len(unknown) < len(values) else names
            text = N_("In which unit are the values of %(whose)s?", whose=whose)
            questions.append(Question(about, text, get_args(ReadingUnit), hint, why))
    return questions


def with_answer(mapping: Mapping, about: str, answer: str) -> Mapping:
    """Return the mapping with one answer put in; ``about`` is that of a ``Question``.

    Raises IntakeError when the mapping would then be wrong.
    """
    content = mapping.to_dict()
    columns = content["columns"]
    if about in ("time_form", "date_order"):
        content[about] = answer
        if answer == "clock":
            columns[mapping.numbers("time")[0]]["use"] = "clock"
    elif about == "zone":
        try:
            time_zone(answer)
        except ClockError as error:
            raise IntakeError(N_("zone: %(error)s", error=message_of(error))) from error
        content["zone"] = answer
    else:
        kind, _, name = about.partition(": ")
        for index in mapping.numbers("value"):
            if name in ("", mapping.probe_name(index)):
                columns[index]["use" if kind == "column" else "unit"] = answer
    return Mapping.from_dict(content)
