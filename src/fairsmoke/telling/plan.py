"""The plan of a trial in words: what would spoil its answer, with the mend, and its layout."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from fairsmoke.design.draw import freedom_of
from fairsmoke.judging.deviations import deviations_of
from fairsmoke.messages.message import N_, NN_, InputField, Listed, Message, Words
from fairsmoke.planning.remarks import Factor, Remark, RemarkKind
from fairsmoke.quantity.values import Instant
from fairsmoke.telling.blocks import Column, Section, items, small, strong, table, text
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.plan import Layout, LayoutKind, Slot
from fairsmoke.trial.question import Trial
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.registration import Amendment

NOT_REGISTERED = N_(
    "Register the plan before anything is seen, or the trial counts as exploratory."
)
NOTHING_SPOILS = N_("Nothing was found that would spoil the answer.")

KINDS = {
    LayoutKind.MATCHED: N_("Matched sets: pieces as alike as can be"),
    LayoutKind.HALVES: N_("Halves of whole pieces"),
    LayoutKind.BLOCKS: N_("Blocks: each cook has every arm as often"),
    LayoutKind.LATIN: N_("Latin square: every arm once in each cook and place"),
    LayoutKind.INCOMPLETE: N_("Incomplete blocks: fewer places than arms"),
    LayoutKind.WHOLE_COOKS: N_("Whole cooks: every cook has one arm, and cooks are drawn"),
    LayoutKind.SEARCH: N_("Search: for awkward numbers, every piece is used"),
}

_SURROUNDS = {
    "cooker": N_("the temperature of the pit"),
    "holding cabinet": N_("the temperature of the holding cabinet"),
    "dry cooler": N_("the temperature of the dry cooler"),
    "counter": N_("the temperature of the counter"),
    "fridge": N_("the temperature of the fridge"),
}
_ADDED = {
    "fat": N_("the fat added"),
    "liquid": N_("the liquid added"),
    "rub": N_("the rub added"),
    "slather": N_("the slather added"),
}
_ADDITIONS = {
    "fat": N_("fat"),
    "liquid": N_("liquid"),
    "rub": N_("rub"),
    "slather": N_("slather"),
}
_STATES = {
    "bought": N_("bought"),
    "trimmed": N_("trimmed"),
    "cooked": N_("cooked"),
    "held": N_("held"),
    "served": N_("served"),
}


class RemarkWords(NamedTuple):
    """What a remark says: a heading, what is wrong, and the mend."""

    heading: Message
    sentence: Message
    mend: Words


_HEADINGS = {
    RemarkKind.EQUAL_ARMS: N_("Nothing differs between two arms"),
    RemarkKind.TWO_CHANGES: N_("Two things or more change at once"),
    RemarkKind.SHARED_AIR: N_("One fire cannot hold two moistures"),
    RemarkKind.TIED_TO_PLACE: N_("An arm has a side of the cooker of its own"),
    RemarkKind.TIED_TO_COOK: N_("An arm has a day of its own"),
    RemarkKind.UNEVEN_PLACES: N_("Arms stand in different places"),
    RemarkKind.PIECES_DIFFER: N_("Pieces that do not match"),
    RemarkKind.NOTHING_TO_MATCH: N_("Nothing is said by which pieces could be matched"),
    RemarkKind.TASTERS_KNOW: N_("Tasters know which sample is which"),
    RemarkKind.NO_TASTERS: N_("Nobody is there to taste"),
    RemarkKind.ONE_COOK: N_("One fire only"),
    RemarkKind.NOT_DRAWN: N_("The meat itself is what differs"),
    RemarkKind.SPARE_PIECES: N_("Pieces that would not be cooked"),
    RemarkKind.NO_LAYOUT: N_("No layout can be drawn"),
}
_DISTURBED = N_("The treatment itself disturbs what is measured")

_EXCHANGE = N_(
    "Cook a second pair with the sides exchanged, or let the pieces change places halfway through "
    "(%(swap)s).",
    swap=InputField("swap"),
)

_WORDS: dict[RemarkKind, tuple[Message, Message]] = {
    RemarkKind.EQUAL_ARMS: (
        N_("Nothing differs between %(arms)s: whatever comes out, it is chance."),
        N_(
            "Say what one of them does otherwise: pit, moisture, wrap, core, hold, what is "
            "added, or "
            "in words; or give each piece its arm where the meat is what differs."
        ),
    ),
    RemarkKind.TWO_CHANGES: (
        N_(
            "“%(arm)s” differs from every other arm in %(count)s things at once: %(factors)s. "
            "Whatever comes out, nobody can say which of them did it."
        ),
        N_("Change one thing, or add an arm that has only one of them."),
    ),
    RemarkKind.SHARED_AIR: (
        N_(
            "%(arms)s would share a cooker in one cook, and its air is as moist for the one as for "
            "the other."
        ),
        N_(
            "Use two fires with one place each; or give each cook one arm only, in turns and "
            "several times each: such cooks are recorded by hand."
        ),
    ),
    RemarkKind.TIED_TO_PLACE: (
        N_(
            "%(arms)s are each tied to a side of the cooker of their own: a difference may be that "
            "of the place."
        ),
        _EXCHANGE,
    ),
    RemarkKind.TIED_TO_COOK: (
        N_("%(arms)s are each tied to a cook of their own: a difference may be that of the cook."),
        N_("Put every arm into every cook."),
    ),
    RemarkKind.UNEVEN_PLACES: (
        N_(
            "%(arms)s stand for the most part in different places: much of a difference may be "
            "that "
            "of the place."
        ),
        N_("Draw another kind of layout, or plan as many cooks as there are arms."),
    ),
    RemarkKind.PIECES_DIFFER: (
        N_("Pieces of one set do not match. %(pieces)s: %(apart)s."),
        N_(
            "Trim the larger one, exchange it for a piece more like the other, or use halves of "
            "one "
            "piece."
        ),
    ),
    RemarkKind.NOTHING_TO_MATCH: (
        N_("Nothing is said by which the pieces could be matched."),
        N_("Say mass, thickness and grade of each piece."),
    ),
    RemarkKind.TIME_SET: (
        N_(
            "“%(measure)s” of %(arms)s is set by the clock in the protocol, so it cannot show a "
            "difference."
        ),
        N_("End the stages in the cooker by core or by feel, or measure something else."),
    ),
    RemarkKind.CLINGS: (
        NN_(
            "Only %(arms)s gets %(what)s added, and what of it clings to the piece is weighed with "
            "it, so “%(measure)s” would go up by it.",
            "Only %(arms)s get %(what)s added, and what of it clings to the piece is weighed with "
            "it, so “%(measure)s” would go up by it.",
            1,
        ),
        N_(
            "Weigh it before it goes on and what is left in the wrap or tray, scrape the piece "
            "before it is weighed, or give it to every arm."
        ),
    ),
    RemarkKind.HOLDS_JUICE: (
        NN_(
            "%(arms)s is wrapped and holds juice in the wrap, which is neither lost nor %(state)s "
            "meat.",
            "%(arms)s are wrapped and hold juice in the wrap, which is neither lost nor %(state)s "
            "meat.",
            1,
        ),
        N_(
            "Weigh a dry wrap before, and the used wrap with its juice after, so that the ledger "
            "can tell them from the meat."
        ),
    ),
    RemarkKind.NO_TASTERS: (
        NN_(
            "%(scores)s is scored, and nobody is there to taste.",
            "%(scores)s are scored, and nobody is there to taste.",
            1,
        ),
        N_("Say how many will taste, or leave the score out."),
    ),
    RemarkKind.TASTERS_KNOW: (
        N_("Tasters who know which sample is which score what they expect."),
        N_(
            "Hand out coded samples in a drawn order, by someone who does not taste, and say so "
            "(%(blind)s).",
            blind=InputField("blind"),
        ),
    ),
    RemarkKind.NOT_DRAWN: (
        N_(
            "The meat itself is what differs, so nobody can draw which piece gets which arm: "
            "whatever else comes with that meat (animal, age, supplier) comes with the arm."
        ),
        N_("Buy the pieces of each arm from several animals and lots, and say what else differs."),
    ),
    RemarkKind.ONE_COOK: (
        N_("There is one cook only, so the answer is for that fire on that day."),
        N_("Spread the pieces over two cooks or more, each with every arm."),
    ),
    RemarkKind.SPARE_PIECES: (
        NN_(
            "%(pieces)s would not be cooked: it fits in no set, or there is no room or cook left "
            "for it.",
            "%(pieces)s would not be cooked: they fit in no set, or there is no room or cook left "
            "for them.",
            1,
        ),
        N_("Get pieces that match them, plan another cook, or draw the layout by search."),
    ),
}


def remark_words(remark: Remark) -> RemarkWords:
    """Return what a remark says."""
    heading = _HEADINGS.get(remark.kind, _DISTURBED)
    if remark.kind is RemarkKind.NO_LAYOUT:
        return RemarkWords(
            heading, N_("No layout can be drawn."), _as_sentence(remark.values["why"])
        )
    words, mend = _WORDS[remark.kind]
    values = {name: _value(name, value) for name, value in remark.values.items()}
    counted = (
        remark.values.get("arms") or remark.values.get("pieces") or remark.values.get("scores")
    )
    count = len(counted or remark.values.get("factors", "1"))
    return RemarkWords(
        heading, Message(words.text, {"count": count, **values}, words.many, count), mend
    )


def _as_sentence(words: Words) -> Message:
    return N_("This keeps it from being drawn: %(why)s.", why=words)


def _value(name: str, value: Any) -> Any:
    match name:
        case "arms":
            return Listed([N_("“%(name)s”", name=arm) for arm in value], "and")
        case "pieces" | "scores":
            return Listed(value, "and")
        case "apart":
            return Listed(value)
        case "factors":
            return Listed([factor_words(one) for one in value], "and")
        case "what":
            return _ADDITIONS[value]
        case "state":
            return _STATES[value]
    return value


def factor_words(factor: Factor) -> Message:
    """Return what differs between two protocols, in words."""
    match factor.what:
        case "stage":
            return N_("the stage “%(name)s”", name=factor.of)
        case "place":
            return N_("where it is")
        case "surround":
            return _SURROUNDS[factor.of]
        case "wrap":
            return N_("the wrap")
        case "humidity":
            return N_("the moisture of the air")
        case "ends":
            return N_("when “%(name)s” ends", name=factor.of)
        case "adds":
            return _ADDED[factor.of]
    return N_("what is noted of “%(name)s”", name=factor.of)


def remarks_json(remarks: Sequence[Remark]) -> list[dict[str, str]]:
    """Return remarks for programs: the code that stays, and the words in English."""
    return [
        {"code": one.code, "sentence": str(words.sentence), "mend": str(words.mend)}
        for one, words in zip(remarks, map(remark_words, remarks), strict=True)
    ]


def remark_section(remarks: Sequence[Remark]) -> Section:
    """Return what would spoil an answer, each with its mend and with the code that stays."""
    if not remarks:
        return Section("", [text(NOTHING_SPOILS)])
    found = Section(N_("What would spoil the answer"))
    for one in remarks:
        words = remark_words(one)
        mend = N_("Mend: %(mend)s [%(code)s]", mend=words.mend, code=one.code)
        found.blocks += [strong(words.sentence), items([mend])]
    return found


def asked_document(trial: Trial, remarks: Sequence[Remark]) -> list[Section]:
    """Return a trial that was asked, with what would spoil its answer."""
    return [Section("", [text(f"{trial.title} ({trial.id})")]), remark_section(remarks)]


def layout_document(layout: Layout, trial: Trial, remarks: Sequence[Remark]) -> list[Section]:
    """Return a layout: who gets what in which cook and place, and what it keeps apart."""
    arms = {arm.id: arm.name for arm in trial.arms}
    moved = any(slot.then for slot in layout.slots)
    heads = [N_("cook"), N_("set"), N_("piece"), N_("arm"), N_("place")]
    rows: list[list[Words]] = [
        [
            str(slot.cook),
            slot.block,
            slot.piece,
            arms.get(slot.arm, slot.arm),
            slot.spot.text if slot.spot else N_("anywhere"),
            *([", ".join(spot.text for spot in slot.then)] if moved else []),
        ]
        for slot in layout.slots
    ]
    columns = [Column(head) for head in (*heads, *([N_("then")] if moved else []))]
    blocks = [table(columns, rows), items(free_line(layout, trial))]
    if layout.spare:
        blocks.append(text(N_("Left over: %(pieces)s.", pieces=Listed(layout.spare))))
    drawn = N_(
        "%(kind)s, seed %(seed)s, %(algorithm)s.",
        kind=KINDS[layout.kind],
        seed=str(layout.seed),
        algorithm=layout.algorithm,
    )
    blocks.append(small(drawn))
    if layout.drawn_before:
        thrown = NN_(
            "%(count)s earlier one was drawn and thrown away.",
            "%(count)s earlier ones were drawn and thrown away.",
            layout.drawn_before,
        )
        blocks.append(small(thrown))
    return [Section("", blocks), remark_section(remarks)]


def free_line(layout: Layout, trial: Trial) -> list[Message]:
    """Say which comparisons of a layout are free of which disturbances, each in a clause."""
    return freedom_of(layout.slots, {arm.id: arm.name for arm in trial.arms})


def amendment_words(amendment: Amendment) -> Message:
    """Return a dated amendment with its reason."""
    return N_(
        "Amended %(at)s: %(what)s Why: %(why)s",
        at=Instant(amendment.at),
        what=amendment.what,
        why=amendment.why,
    )


def registered_document(record: TrialRecord, copy: str | None) -> list[Section]:
    """Return a registered plan: when, its digest, what was amended, and what differs from it.

    ``copy`` is the file that it was written to.
    """
    registration = record.registration
    assert registration is not None
    blocks = [
        text(N_("Registered %(time)s.", time=Instant(registration.at))),
        text(f"SHA-256 {registration.digest}"),
        *(text(amendment_words(one)) for one in registration.amendments),
    ]
    for one in deviations_of(record):
        if one.told:
            blocks.append(text(N_("Differs, as amended: %(what)s", what=one.sentence)))
        else:
            blocks.append(strong(N_("Differs, not amended: %(what)s", what=one.sentence)))
    if copy is None:
        out = InputField("out")
        words = N_("%(out)s writes the frozen plan; its sha256sum is the one above.", out=out)
    else:
        words = N_("Written: %(file)s. Anyone checks it with: sha256sum %(file)s", file=copy)
    return [Section("", [*blocks, text(words)])]


def begun_document(record: TrialRecord, cook: Cook, slots: Sequence[Slot]) -> list[Section]:
    """Return a cook that was begun as planned: which piece stands where."""
    arms = {arm.id: arm.name for arm in record.trial.arms}
    starts = N_(
        "%(cook)s (%(handle)s) from %(starts)s",
        cook=cook.name,
        handle=cook.id,
        starts=Instant(cook.starts),
    )
    lines = [
        N_(
            "%(piece)s: “%(arm)s” in %(place)s",
            piece=slot.piece,
            arm=arms[slot.arm],
            place=_way(slot),
        )
        for slot in slots
    ]
    blocks = [text(starts), items(lines)]
    if record.registration is None:
        blocks.append(strong(NOT_REGISTERED))
    return [Section("", blocks)]


def _way(slot: Slot) -> Words:
    if slot.spot is None:
        return N_("any place")
    if not slot.then:
        return slot.spot.text
    then = Listed([spot.text for spot in slot.then])
    return N_("%(place)s, then %(then)s", place=slot.spot.text, then=then)
