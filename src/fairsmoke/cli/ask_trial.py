"""The questions that set up a trial, one after another at the keyboard."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeVar

import typer

from fairsmoke.cli.file_layout import agrees
from fairsmoke.cli.screen import say
from fairsmoke.messages.errors import JobError, is_for_a_person, message_of
from fairsmoke.planning.asked import Asked
from fairsmoke.setting_up.ask_answers import Answers, asked_of_answers, measure_of
from fairsmoke.setting_up.method import Method
from fairsmoke.trial.cook import Cooker

if TYPE_CHECKING:
    from fairsmoke.setting_up.ask import Asking

T = TypeVar("T")

SPECIES = ("beef", "pork", "lamb", "turkey", "chicken", "other")


def asked_one_by_one(known: tuple[Cooker, ...]) -> Asked | None:
    """Ask for a trial until the answers hold together; None when the person does not want it.

    ``known`` are the notebook's cookers.
    """
    from fairsmoke.setting_up.ask import look_at

    while True:
        answers = _answers(known)
        try:
            asked = asked_of_answers(answers)
            found = look_at(asked, known)
        except ValueError as error:
            if not is_for_a_person(error):
                raise
            say(f"These answers do not hold together: {message_of(error)}")
            if not agrees("Begin again?"):
                return None
            continue
        _tell(found)
        return asked if agrees("Record it so?") else None


def _tell(found: "Asking") -> None:
    for remark in found.remarks:
        say(f"- {remark.text}")
    if not found.remarks:
        say("Nothing was found that would spoil the answer.")


def _answers(known: tuple[Cooker, ...]) -> Answers:
    question = _text("What do you want to know?")
    title = _text("A short title", question[:60])
    differs = _text("What differs between the arms, in a few words?")
    method = _method()
    say("The first arm is the base; of the others say what they do otherwise, as 'wrap=paper' or")
    say("'pit=135 °C'; nothing where the meat is what differs. An empty name ends the list.")
    arms = _arms(method)
    measures = _list(
        "What is measured, and what difference would change what you do? ('yield: 2 points', "
        "'cook time: 30 min', 'Bark 0-10: 1')",
        check=measure_of,
        least=1,
    )
    cut = _text("Which cut?")
    species = _choice("Of which animal?", SPECIES)
    pieces = _list(
        "Each piece with mass, thickness and grade ('shoulder-1: 3.41 kg, 11.5 cm, choice'), or "
        "how many",
        least=1,
    )
    cookers, stand_in = _where(known)
    cooks = _text("How many cooks can you afford?", "1")
    tasters = _text("How many will taste?", "0")
    blind = agrees("Will they taste blind?") if tasters != "0" else None
    price_piece = _text("What does a piece cost? (empty: not said)", "")
    price_cook = _text("And a cook, with its fuel? (empty: not said)", "")
    currency = _text("In which currency?") if price_piece or price_cook else ""
    leave_out = _list("For which reasons would a piece not count? (empty: none)", least=0)
    return Answers(
        title=title,
        question=question,
        differs=differs,
        cut=cut,
        species=species,
        arms=arms,
        measures=measures,
        pieces=pieces,
        method=method,
        cookers=cookers,
        stand_in=stand_in,
        cooks=cooks,
        tasters=tasters,
        blind=blind,
        price_piece=price_piece,
        price_cook=price_cook,
        currency=currency,
        leave_out=leave_out,
    )


def _method() -> Method:
    while True:
        usual = Method()
        method = Method(
            pit=_text("What all arms share: the pit's temperature", usual.pit),
            wrap=_text("The wrap of all arms (empty: none, or it is what differs)", ""),
            wrap_at=_text("The core at which a wrap goes on", usual.wrap_at),
            until=_text("The core at which pieces come off", usual.until),
            hold=_text("The temperature of the hold (empty: none)", ""),
        )
        try:
            method.check()
        except JobError as error:
            say(str(error))
        else:
            return method


def _arms(method: Method) -> list[str]:
    arms = [_text("The first arm")]
    while True:
        name = _text(f"Arm {len(arms) + 1}", None if len(arms) < 2 else "")
        if not name:
            return arms
        otherwise = _text(f"What does “{name}” do otherwise?", "")
        try:
            if otherwise:
                method.changed(otherwise).check()
        except JobError as error:
            say(str(error))
            continue
        arms.append(f"{name}: {otherwise}")


def _where(known: tuple[Cooker, ...]) -> tuple[list[str], list[str]]:
    """Return new cookers as texts, and those of the notebook that are used."""
    if known:
        names = ", ".join(cooker.id for cooker in known)
        given = _text(f"In which cooker? ({names}; another word for a new one)", known[0].id)
        if given in {cooker.id for cooker in known}:
            return [], [given]
    return [_text("The cooker and its positions ('Barrel: left, right')")], []


def _text(question: str, default: str | None = None) -> str:
    shown = bool(default)
    return str(typer.prompt(question, default=default, show_default=shown)).strip()


def _choice(question: str, choices: Sequence[str]) -> str:
    while True:
        given = _text(f"{question} ({', '.join(choices)})").casefold()
        if given in choices:
            return given
        say(f"Answer with one of: {', '.join(choices)}")


def _list(question: str, *, least: int, check: Callable[[str], T] | None = None) -> list[str]:
    say(f"{question}. An empty line ends the list.")
    found: list[str] = []
    while True:
        given = _text(f"  {len(found) + 1}", "" if len(found) >= least else None)
        if not given:
            return found
        try:
            if check is not None:
                check(given)
        except JobError as error:
            say(str(error))
        else:
            found.append(given)
