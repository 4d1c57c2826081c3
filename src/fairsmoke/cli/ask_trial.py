"""The questions that set up a trial, one after another at the keyboard.

Each answer is checked and kept at once; Ctrl-C leaves, and the next ``ask`` offers what was said.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import typer

from fairsmoke.cli.screen import STOPPED, complain, opened, reader_here, say, tell_recorded
from fairsmoke.messages.errors import JobError, is_for_a_person, message_of
from fairsmoke.messages.message import N_, Listed, Message, Words
from fairsmoke.planning.asked import handle_of
from fairsmoke.setting_up.ask import Asking, ask, look_at
from fairsmoke.setting_up.ask_answers import (
    asked_of_answers,
    cooker_of,
    measure_of,
    named,
    piece_of,
    pieces_of,
    price_of,
)
from fairsmoke.setting_up.ask_draft import AskDraft
from fairsmoke.setting_up.method import Method
from fairsmoke.telling.as_text import document_text
from fairsmoke.telling.plan import asked_document
from fairsmoke.trial.cook import Cooker
from fairsmoke.trial.nouns import Species
from fairsmoke.trial.plan import PlannedPiece
from fairsmoke.trial.question import Measure

if TYPE_CHECKING:
    from fairsmoke.telling.reader import Reader

Check = Callable[[str], object]
"""Raises ValueError for an answer that cannot be; returns what it names in a list, if anything."""


@dataclass(frozen=True)
class Prompt:
    """A question at the keyboard, by the name of its field.

    ``default``: None where something must be said, "" where nothing may be. ``least``: of a list,
    how many there must be; None where one line answers. ``wanted`` tells whether it is asked at
    all after what was said before.
    """

    name: str
    words: Message
    check: Check = str
    default: str | None = None
    least: int | None = None
    wanted: Callable[[AskDraft], bool] = lambda draft: True


def ask_at_keyboard(notebook: Path, *, by: str, why: str, record: bool) -> None:
    """Ask for a trial until the answers hold together, and record it when the person agrees."""
    with opened(notebook) as book:
        known = book.list(Cooker)
    draft = AskDraft(notebook)
    try:
        found = _asked(draft, known)
    except (KeyboardInterrupt, typer.Abort):
        kept = N_("Stopped. What you said is kept in %(file)s; the same command offers it.")
        nothing = N_("Stopped. Nothing was said yet.")
        words = Message(kept.text, {"file": str(draft.path)}) if draft.answers else nothing
        complain(reader_here().say(words))
        raise typer.Exit(STOPPED) from None
    if found is not None and record:
        with opened(notebook) as book:
            ask(book, asked_of_answers(draft.written()), by=by, why=why)
        draft.discard()
        tell_recorded(notebook, found.trial.id)
    else:
        tell_recorded(notebook)


def _asked(draft: AskDraft, known: tuple[Cooker, ...]) -> Asking | None:
    if draft.answers:
        offer = N_(
            "There are %(count)s answers that were not recorded (“%(first)s”). Go on from them?",
            count=len(draft.answers),
            first=draft.text("title") or draft.text("question"),
        )
        if not _agrees(offer):
            draft.discard()
    questions = _questions(known)
    while True:
        for question in questions:
            if not question.wanted(draft):
                draft.answers.pop(question.name, None)
            elif question.name not in draft.answers:
                draft.keep(question.name, _answer(question, draft))
        try:
            found = look_at(asked_of_answers(draft.written()), known)
        except ValueError as error:
            if not is_for_a_person(error):
                raise
            _tell(N_("These answers do not hold together: %(why)s", why=message_of(error)))
            found = None
        if found is not None:
            say(document_text(asked_document(found.trial, found.remarks), _reader()))
        chosen = _chosen(draft, questions, can_record=found is not None)
        if chosen is None:
            return found
        if chosen == "":
            return None
        del draft.answers[chosen]


def _chosen(draft: AskDraft, questions: Sequence[Prompt], *, can_record: bool) -> str | None:
    """Return the question to be answered anew, None to record, "" to leave."""
    asked = [one for one in questions if one.name in draft.answers]
    if can_record:
        words = N_("Record it so? (yes, no, or “change”)")
        while (given := _line(words, "yes").casefold()) not in ("change", *_CHANGE):
            if given[:1] in ("y", "j"):
                return None
            if given[:1] == "n":
                return ""
    for number, one in enumerate(asked, start=1):
        said = draft.answers[one.name]
        shown = said if isinstance(said, str) else "; ".join(said)
        say(f"{number:>3}  {_reader().say(one.words)} {shown}")
    while True:
        given = _line(N_("The number of the answer to change (empty: leave)"), "")
        if not given:
            return ""
        if given.isdecimal() and 1 <= int(given) <= len(asked):
            return asked[int(given) - 1].name


_CHANGE = ("c", "ä", "ändern")


def _questions(known: tuple[Cooker, ...]) -> list[Prompt]:
    usual = Method()
    return [
        Prompt("question", N_("What do you want to know?")),
        Prompt("title", N_("A short title"), handle_of),
        Prompt("differs", N_("What differs between the arms, in a few words?")),
        Prompt("pit", N_("What all arms share: the pit's temperature"), _of("pit"), usual.pit),
        Prompt(
            "wrap",
            N_("The wrap of all arms (empty: none, or it is what differs)"),
            _of("wrap"),
            "",
        ),
        Prompt("wrap_at", N_("The core at which a wrap goes on"), _of("wrap_at"), usual.wrap_at),
        Prompt("until", N_("The core at which pieces come off"), _of("until"), usual.until),
        Prompt("hold", N_("The temperature of the hold (empty: none)"), _of("hold"), ""),
        Prompt(
            "arm",
            N_(
                "The arms, one a line: the first is the base; of the others say what they do "
                "otherwise, as “In paper: wrap=paper” or “Hotter: pit=135 °C”; nothing where the "
                "meat is what differs"
            ),
            _arm,
            least=2,
        ),
        Prompt(
            "measure",
            N_(
                "What is measured, and what difference would change what you do? (“yield: 2 "
                "points”, “cook time: 30 min”, “Bark 0-10: 1”)"
            ),
            lambda text: Measure.from_file(measure_of(text)).name,
            least=1,
        ),
        Prompt("cut", N_("Which cut?")),
        Prompt("species", N_("Of which animal?"), _species),
        Prompt(
            "piece",
            N_(
                "Each piece with mass, thickness and grade (“shoulder-1: 3.41 kg, 11.5 cm, "
                "choice”), "
                "or how many"
            ),
            _piece,
            least=1,
        ),
        *_cooker_questions(known),
        Prompt("cooks", N_("How many cooks can you afford?"), _whole(1), "1"),
        Prompt("tasters", N_("How many will taste?"), _whole(0), "0"),
        Prompt(
            "blind",
            N_("Will they taste blind? (yes or no)"),
            _yes_or_no,
            "yes",
            wanted=lambda draft: draft.text("tasters") != "0",
        ),
        Prompt(
            "price_piece",
            N_("What does a piece cost? (empty: not said)"),
            lambda text: price_of(text, "price_piece"),
            "",
        ),
        Prompt(
            "price_cook",
            N_("And a cook, with its fuel? (empty: not said)"),
            lambda text: price_of(text, "price_cook"),
            "",
        ),
        Prompt(
            "currency",
            N_("In which currency?"),
            wanted=lambda draft: bool(draft.text("price_piece") or draft.text("price_cook")),
        ),
        Prompt(
            "leave_out",
            N_("For which reasons would a piece not count? (empty: none)"),
            least=0,
        ),
    ]


def _cooker_questions(known: tuple[Cooker, ...]) -> list[Prompt]:
    new = Prompt(
        "cooker",
        N_("Each new cooker and its positions (“Barrel: left, right”)"),
        lambda text: Cooker.from_file(cooker_of(text)).name,
        least=1,
        wanted=lambda draft: not draft.answers.get("stand_in"),
    )
    if not known:
        return [new]
    handles = [cooker.id for cooker in known]

    def is_known(text: str) -> str:
        if text not in handles:
            raise JobError(N_("Answer with one of: %(choices)s", choices=Listed(handles)))
        return text

    words = N_("In which cooker? (%(known)s; none for a new one)", known=Listed(handles))
    return [Prompt("stand_in", words, is_known, least=0), new]


def _of(option: str) -> Check:
    return lambda text: Method(**{option: text}).check()


def _arm(text: str) -> str:
    name, said = named(text, "arm")
    if said:
        # A wrap of all arms may have been said before; whether it is used is seen with the others.
        Method(wrap="bare", hold="66 °C").changed(said, "arm").check()
    return name


def _piece(text: str) -> str:
    if text.isdigit():
        return str(pieces_of([text])[0]["id"])
    return PlannedPiece.from_file(piece_of(text)).shown


def _species(text: str) -> None:
    choices = get_args(Species)
    if text.casefold() not in choices:
        raise JobError(N_("Answer with one of: %(choices)s", choices=Listed(choices)))


def _whole(least: int) -> Check:
    def check(text: str) -> None:
        if not text.isdecimal() or int(text) < least:
            raise JobError(N_("Write a whole number from %(least)s on.", least=least))

    return check


def _yes_or_no(text: str) -> None:
    if text not in ("yes", "no"):
        raise JobError(N_("Answer with yes or no."))


def _answer(question: Prompt, draft: AskDraft) -> str | list[str]:
    if question.least is not None:
        return _lines(question, question.least, draft)
    while True:
        given = _line(question.words, question.default)
        if question.name in ("blind", "species"):
            given = _plain_word(given)
        if _can_stand(question, given):
            return given


def _lines(question: Prompt, least: int, draft: AskDraft) -> list[str]:
    """Return a list's lines; each is kept as it is said, so that a list left halfway goes on."""
    more = N_("%(question)s. An empty line ends the list.", question=question.words)
    say(_reader().say(more))
    found: dict[str, str] = {}
    unfinished = f"{question.name}{_UNFINISHED}"
    for earlier in draft.answers.get(unfinished, ()):
        if _can_stand(question, earlier):
            say(f"  {len(found) + 1}: {earlier}")
            found[str(question.check(earlier)).casefold()] = earlier
    while given := _line(f"  {len(found) + 1}", "" if len(found) >= least else None):
        if _can_stand(question, given):
            name = str(question.check(given)).casefold()
            if name in found:
                _tell(N_("This replaces “%(earlier)s”.", earlier=found[name]))
            found[name] = given
            draft.keep(unfinished, list(found.values()))
    draft.answers.pop(unfinished, None)
    return list(found.values())


_UNFINISHED = ", not finished"
"""Behind the name of a list in a draft whose last line was not said yet."""


def _can_stand(question: Prompt, given: str) -> bool:
    """Tell whether an answer can stand; if not, say what is wrong with it."""
    try:
        if given or question.default is None:
            question.check(given)
    except ValueError as error:
        if not is_for_a_person(error):
            raise
        _tell(message_of(error))
        return False
    return True


def _plain_word(text: str) -> str:
    """Return yes and no as they are kept, in whichever language they were said."""
    word = text.casefold()
    return {"y": "yes", "j": "yes", "ja": "yes", "n": "no", "nein": "no"}.get(word, word)


def _agrees(question: Message) -> bool:
    words = N_("%(question)s (yes or no)", question=question)
    while (given := _plain_word(_line(words, "yes"))) not in ("yes", "no"):
        _tell(N_("Answer with yes or no."))
    return given == "yes"


def _line(words: Words, default: str | None = None) -> str:
    shown = _reader().say(words)
    return str(typer.prompt(shown, default=default, show_default=bool(default))).strip()


def _reader() -> "Reader":
    """Return who answers: fields go by what they are called, as nobody writes options here."""
    return replace(reader_here(), face="page")


def _tell(words: Words) -> None:
    say(_reader().say(words))
