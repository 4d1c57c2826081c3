"""From one trial to the next: its question, cut, measures and cookers as the first answers."""

from dataclasses import fields as fields_of_class
from dataclasses import replace

from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import QuantityError, parse_duration, show_duration
from fairsmoke.setting_up.ask_answers import WrittenAnswers
from fairsmoke.setting_up.method import BOAT, Method
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.protocol import Cover, Place, Protocol, Stage, Wrap
from fairsmoke.trial.question import TIMES, Measure, MeasureKind, Trial


def carried_over(book: Notebook, trial: str) -> WrittenAnswers:
    """Return the answers for a trial after this one: all but its title and its pieces.

    What the short questions cannot say of its protocol is left at what is usual. Raises JobError
    when there is no such trial.
    """
    found = next((one for one in book.trials() if one.id == trial), None)
    if found is None:
        known = ", ".join(one.id for one in book.trials()) or N_("none")
        message = N_("there is no trial '%(given)s'; known: %(known)s", given=trial, known=known)
        raise JobError(message, field="after")
    plan = next(iter(book.list(Plan, trial=trial)), None)
    pieces = [one for one in book.list("piece", trial=trial) if getattr(one, "arm", None)]
    method, arms = _methods(found)
    answers = WrittenAnswers(
        question=found.question,
        differs=found.differs,
        cut=str(getattr(pieces[0], "cut", "")) if pieces else "",
        species=str(getattr(pieces[0], "species", "other")) if pieces else "other",
        arm=arms,
        measure=[measure_text(one) for one in _main_first(found)],
        method=method,
        stand_in=_cookers(book, trial, plan),
        sure=f"{100 * found.verdict.sure:g} %",
    )
    if plan is None:
        return answers
    at_hand = plan.at_hand
    return replace(
        answers,
        cut=at_hand.cut,
        species=at_hand.species,
        cooks=str(at_hand.cooks),
        tasters=str(at_hand.tasters),
        blind=at_hand.blind,
        price_piece="" if at_hand.price_piece is None else f"{at_hand.price_piece:g}",
        price_cook="" if at_hand.price_cook is None else f"{at_hand.price_cook:g}",
        currency=at_hand.currency,
        leave_out=plan.leave_out,
    )


def _main_first(trial: Trial) -> list[Measure]:
    main = trial.main_measure
    return [main, *(one for one in trial.measures if one is not main)]


def _cookers(book: Notebook, trial: str, plan: Plan | None) -> tuple[str, ...]:
    planned = [spot.cooker for spot in plan.at_hand.spots] if plan is not None else []
    used = [one for cook in book.list(Cook, trial=trial) for one in cook.cookers]
    return tuple(dict.fromkeys(planned or used))


def measure_text(measure: Measure) -> str:
    """Return a measure as the short questions take it: "yield: 2 points", "Bark 0-10: 1"."""
    written = measure.to_file()
    worth = str(written["worthwhile"])
    name = measure.name.replace(":", " ").replace(",", " ")
    better = f", {measure.better}"
    if measure.kind in TIMES:
        worth = _hours(worth)
        name = "cook time" if measure.core_c is None else f"time to {written['core']}"
    elif measure.kind is MeasureKind.YIELD:
        name = "yield"
    elif measure.kind is MeasureKind.SCORE:
        name = f"{name} {measure.scale_low:g}-{measure.scale_high:g}"
    else:
        name = f"{name} in {measure.unit}"
    return f"{name}{better}: {worth}"


def _hours(text: str) -> str:
    """Return a time as people say it, if that says the same."""
    try:
        shown = show_duration(parse_duration(text))
        return shown if parse_duration(shown) == parse_duration(text) else text
    except QuantityError:
        return text


def _methods(trial: Trial) -> tuple[Method, list[str]]:
    """Return what all arms have in common, and each arm with what it does otherwise."""
    methods = [method_of(trial.protocol_of(arm.id)) for arm in trial.arms]
    known = [one for one in methods if one is not None]
    names = [arm.name.replace(":", " ") for arm in trial.arms]
    if len(known) < len(methods):
        return Method(), names
    # A wrap that one arm lacks cannot be taken away again: it is said by those that have it.
    base = known[0] if all(one.wrap for one in known) else replace(known[0], wrap="", finish="")
    return base, [_arm(name, base, method) for name, method in zip(names, known, strict=True)]


def _arm(name: str, base: Method, method: Method) -> str:
    changed = []
    for one in fields_of_class(Method):
        value = getattr(method, one.name)
        needed = one.name == "wrap_at" and not method.wrap
        if value != getattr(base, one.name) and value and not needed:
            changed.append(f"{one.name.replace('_', '-')}={value}")
    return f"{name}: {', '.join(changed)}" if changed else name


def method_of(protocol: Protocol) -> Method | None:
    """Return the method that these stages are, None for what a few options cannot say."""
    cooking = [one for one in protocol.stages if one.place is Place.COOKER]
    rest = protocol.stages[len(cooking) :]
    held = rest[0] if rest else None
    shaped = 1 <= len(cooking) <= 2 and len(rest) <= 1 and cooking[0].wrap == Wrap()
    if not shaped or (held is not None and held.place is not Place.CABINET):
        return None
    first, last = cooking[0], cooking[-1]
    until, turned = _end(last, "core"), _end(first, "core")
    pit, finish = _surround(first), _surround(last)
    wrap = _wrap_word(last.wrap) if len(cooking) == 2 else ""
    if not until or not turned or not pit or wrap is None:
        return None
    fat = next((one.mass_kg for one in last.adds if one.what == "fat"), None)
    method = Method(
        pit=pit,
        humidity=str(first.humidity),
        wrap=wrap,
        wrap_at=turned if wrap else Method().wrap_at,
        finish=finish if wrap and finish != pit else "",
        until=until,
        longest=_hours(_end(last, "elapsed")),
        fat=f"{1000 * fat:g} g" if fat else "",
        note=first.note,
    )
    if held is None:
        return method
    own = _wrap_word(held.wrap)
    stays = _end(held, "elapsed")
    if own is None or not stays:
        return None
    return replace(
        method,
        hold=_surround(held),
        hold_for=_hours(stays),
        hold_wrap="" if own == wrap else own or "bare",
    )


def _surround(stage: Stage) -> str:
    return str(stage.to_file().get("surround", ""))


def _end(stage: Stage, key: str) -> str:
    return next((str(one.to_file()[key]) for one in stage.ends if key in one.to_file()), "")


def _wrap_word(wrap: Wrap) -> str | None:
    """Return the wrap in the word of an option, "" for none, None for what has no word."""
    if wrap.above == wrap.below:
        return "" if wrap.above is Cover.BARE else str(wrap.above)
    return BOAT if (wrap.above, wrap.below) == (Cover.BARE, Cover.FOIL) else None
