"""Settle how a logger's file is read: as told on the command line, as known, or by asking."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from fairsmoke.arriving.doubts import check_apart
from fairsmoke.arriving.probe_names import by_file_name, handles, likeliest, probes_of
from fairsmoke.arriving.take_in import LayoutAnswer, read_for
from fairsmoke.cli.layouts import show_as_read, show_recognition, write_mapping
from fairsmoke.cli.progress import far_along
from fairsmoke.cli.screen import complain, prompted, said, say
from fairsmoke.intake.answers import choice_meant
from fairsmoke.intake.layout import Mapping as Layout
from fairsmoke.intake.read import LoggerFile
from fairsmoke.intake.recognise import Question, Recognition, recognise, with_answer
from fairsmoke.intake.text import IntakeError
from fairsmoke.messages.errors import JobError, message_of
from fairsmoke.messages.message import N_, Listed, Message, Words, placed
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Probe

NOT_OF_LAYOUT = frozenset({"zone", "start"})
"""The zone is the cook's unless told, and the start is asked for each file."""
START = Question("start", N_("On which day, and when, does this file begin?"))


@dataclass(frozen=True)
class LayoutOptions:
    """What the command line says of a file: ``mapping`` is one written by hand."""

    answers: Mapping[str, str]
    probes: Mapping[str, str]
    start: datetime | None = None
    mapping: Layout | None = None
    yes: bool = False
    mapping_out: Path | None = None


@dataclass(frozen=True)
class Home:
    """What the notebook has for a file: its cook, the probes, how such files were read before."""

    cook: Cook
    probes: Sequence[Probe]
    known: Callable[[str], LayoutAnswer | None]


def recognised(file: Path) -> Recognition:
    """Recognise a file. Raises IntakeError, which names it, when that cannot be done."""
    try:
        return recognise(file.read_bytes())
    except IntakeError as error:
        raise IntakeError(placed(str(file), error)) from error


def answer_for(
    file: Path, told: LayoutOptions, home: Home, *, ask: bool
) -> tuple[LayoutAnswer, LoggerFile] | None:
    """Return how to read a file, and the file read so.

    None when a person says no, or when something must be asked and nobody can be (``ask``); all
    that is missing was then told at once. Raises JobError or IntakeError for wrong answers.
    """
    if not home.probes:
        raise JobError(
            N_(
                "no probe is recorded yet, and a reading belongs to a probe: add each with "
                "'fairsmoke add-probe NAME' or in the app under Kitchen, then take the file in"
            )
        )
    found = None if told.mapping else recognised(file)
    known = home.known(found.layout) if found else None
    layout, questions = _layout_told(found, told, known)
    settled = told.yes or told.mapping is not None or known is not None
    earlier = known.probes if known else {}
    if questions and not ask:
        _tell_missing(questions, _unnamed(found, layout, told, earlier, home), home, settled)
        _keep(told, layout, {})
        return None
    if ask and found and not settled:
        show_recognition(found, questions=False)
    layout, start = _asked_layout(found, layout, questions, told.start)
    with far_along(N_("Reading")) as progress:
        answer = LayoutAnswer(layout, {}, start)
        read = read_for(home.cook, file.read_bytes(), str(file), answer, progress=progress)
    names = tuple(dict.fromkeys(series.probe for series in read.series))
    given = {**earlier, **by_file_name(told.probes, names, layout)}
    probes = probes_of(names, given, home.probes)
    missing = [name for name, probe in probes.items() if probe is None]
    if not ask and (missing or not settled):
        _tell_missing((), missing, home, settled)
        _keep(told, layout, probes)
        return None
    for name in missing:
        probes[name] = given[name] = _ask_probe(name, read, probes, home.probes)
    if ask and not settled and not _consents(read, layout, probes, home.cook):
        _keep(told, layout, probes)
        return None
    return LayoutAnswer(layout, given, start), read


_YES_NO = {"yes": N_("yes"), "no": N_("no")}


def start_of(text: str) -> datetime | None:
    """Read when a log begins, None when nothing is said. Raises JobError for anything else."""
    if not text.strip():
        return None
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError as error:
        raise JobError(
            N_("the start %(text)r: write it as '2026-05-02 18:30'", text=text)
        ) from error


def agrees(question: Words, *, default: str = "yes") -> bool:
    """Ask for yes or no, however a person writes it."""
    while True:
        asked = N_("%(question)s (yes or no)", question=question)
        given = prompted(asked, default=said(_YES_NO[default])).strip().casefold()
        if given[:1] in ("y", "j", "n") or given in ("ok", "okay"):
            return not given.startswith("n")
        say(N_("Answer with yes or no."))


def _layout_told(
    found: Recognition | None, told: LayoutOptions, known: LayoutAnswer | None
) -> tuple[Layout, list[Question]]:
    """Return the layout with what was told put in, and what is still open."""
    questions: list[Question] = []
    if found is None:
        assert told.mapping is not None
        if set(told.answers) - {"zone"}:
            raise JobError(
                N_("with --mapping, only --answer zone=…; write the rest into the mapping")
            )
        layout = told.mapping
        for about, answer in told.answers.items():
            layout = with_answer(layout, about, answer)
    else:
        base = replace(found, mapping=known.layout) if known else found
        layout = base.answered(told.answers)
        answered = NOT_OF_LAYOUT | told.answers.keys()
        if known is None:
            questions = [q for q in found.questions if q.about not in answered]
    form_is_open = any(q.about == "time_form" for q in questions)
    if told.start is None and (layout.needs_start or (form_is_open and layout.time_form is None)):
        questions.append(START)
    return layout, questions


def _asked_layout(
    found: Recognition | None,
    layout: Layout,
    questions: Sequence[Question],
    start: datetime | None,
) -> tuple[Layout, datetime | None]:
    for question in questions:
        if question is not START and found is not None:
            layout = replace(found, mapping=layout).answered({question.about: _ask(question)})
    while layout.needs_start and start is None:
        try:
            start = start_of(prompted(N_("%(start)s (such as 2026-05-02 18:30)", start=START.text)))
        except JobError as error:
            say(message_of(error))
    return layout, start


def _unnamed(
    found: Recognition | None,
    layout: Layout,
    told: LayoutOptions,
    earlier: Mapping[str, str],
    home: Home,
) -> list[str]:
    """Return the names of the file of which nothing tells the probe, as far as it was looked at."""
    names = found.names if found else tuple(map(layout.probe_name, layout.numbers("value")))
    given = dict(told.probes)
    if not layout.one_reading_a_row:
        given = by_file_name(told.probes, names, layout)
    return [
        name
        for name, probe in probes_of(names, {**earlier, **given}, home.probes).items()
        if probe is None
    ]


def _tell_missing(
    questions: Sequence[Question], names: Sequence[str], home: Home, settled: bool
) -> None:
    for question in questions:
        complain(N_("Asked: %(asked)s", asked=question.asked))
        if question is START:
            complain(N_("  say --start '2026-05-02 18:30'"))
        else:
            complain(N_("  say --answer '%(about)s=…'", about=question.about))
    for name in names:
        near = likeliest(name, home.probes)
        complain(N_("Asked: %(asked)s", asked=_probe_question(name, home.probes)))
        handle = near[0] if len(near) == 1 else "…"
        complain(
            N_(
                "  say --probe '%(name)s=%(handle)s', or --probe '%(name)s=' to leave it out",
                name=name,
                handle=handle,
            )
        )
    if not settled:
        complain(N_("This layout is new. Look at it with 'fairsmoke look', then say --yes."))


def _keep(told: LayoutOptions, layout: Layout, probes: Mapping[str, str | None]) -> None:
    if told.mapping_out is not None:
        write_mapping(told.mapping_out, layout, probes)
        say(
            N_(
                "What was found is in %(mapping_out)s: mend it, then say --mapping with it.",
                mapping_out=told.mapping_out,
            )
        )


def _consents(
    read: LoggerFile, layout: Layout, probes: Mapping[str, str | None], cook: Cook
) -> bool:
    show_as_read(read, layout, probes, cook)
    if agrees(N_("Is the file laid out like that?")):
        return True
    say(N_("Nothing was taken in. Say how it is laid out with --mapping (docs/logger-files.md)."))
    return False


def _ask(question: Question) -> str:
    while True:
        default = question.suggestion if question.suggestion in question.choices else None
        given = prompted(question.asked, default=default).strip()
        meant = choice_meant(given, question.choices) if question.choices else given
        if meant is not None:
            return meant
        say(N_("Answer with one of: %(choices)s", choices=", ".join(question.choices)))


def _probe_question(name: str, probes: Sequence[Probe]) -> Message:
    near = likeliest(name, probes)
    return N_(
        "Which probe is %(name)r? [%(known)s; empty leaves it out%(hint)s]",
        name=name,
        known=", ".join(p.id for p in probes),
        hint=N_("; perhaps %(near)s", near=Listed(near, "or")) if near else "",
    )


def _ask_probe(
    name: str, read: LoggerFile, so_far: Mapping[str, str | None], probes: Sequence[Probe]
) -> str:
    """Ask until the answer is a probe that no other name is at the same time, or nothing."""
    own = handles(probes)
    while True:
        given = prompted(_probe_question(name, probes), default="", show_default=False)
        probe = own.get(given.strip().casefold())
        if not given.strip():
            return ""
        if probe is None:
            say(
                N_(
                    "There is no probe %(given)r. Add it in another terminal with 'fairsmoke "
                    "add-probe %(given)r', or leave it out now.",
                    given=given.strip(),
                )
            )
            continue
        try:
            check_apart(read, {n: p for n, p in so_far.items() if p} | {name: probe})
        except JobError as error:
            say(message_of(error))
        else:
            return probe
