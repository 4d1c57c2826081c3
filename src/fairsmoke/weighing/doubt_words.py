"""What is odd about a weighing, in words, and what may have been meant."""

from fairsmoke.messages.message import N_, Listed, Message, Words, chained
from fairsmoke.quantity.values import Mass, Number
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing.meant import Meant
from fairsmoke.weighing.plausible import Doubt, DoubtKind

FEWEST_TIMES = 1.5
"""From so many times what it is held against on, the factor tells more than the two masses."""
TENFOLD = 10.0
"""From here on the factor is told without a decimal."""


def doubt_words(doubt: Doubt) -> Message:
    """Say what is odd about a weighing."""
    words = odd(doubt.kind, Mass(max(doubt.now_kg, 0.0)), Mass(doubt.before_kg), doubt.name)
    planned = doubt.kind is DoubtKind.NOT_AS_PLANNED
    if planned and doubt.times >= FEWEST_TIMES:
        return N_(
            "That is %(times)s times the planned %(before)s.",
            times=Number(float(f"{doubt.times:.2g}"), 1 if doubt.times < TENFOLD else 0),
            before=Mass(doubt.before_kg),
        )
    return words


def odd(kind: DoubtKind, now: Words | Mass, before: Words | Mass, name: str) -> Message:
    """Say what is odd, of a mass, what it is held against, and the name of a cook."""
    return Message(_ODD[kind].text, {"now": now, "before": before, "name": name})


_ODD = {
    DoubtKind.GAINED: N_(
        "The meat would now weigh at least %(now)s, and weighed at most %(before)s before: a piece "
        "gains nothing. Is it the right piece, the whole sum, the unit?"
    ),
    DoubtKind.LOST: N_(
        "The meat would now weigh at most %(now)s, and weighed at least %(before)s before: that "
        "is much to lose. Is it the right piece, the unit, a digit too few?"
    ),
    DoubtKind.HARDLY_LOST: N_(
        "The meat would have weighed %(before)s raw and %(now)s cooked: it would have lost next "
        "to nothing. Did a tray lie on the scale too, or is it the raw weight?"
    ),
    DoubtKind.LESS_THAN_ITS_TRAY: N_(
        "That is less than what lies on the scale with it (%(before)s). Was the scale set to zero "
        "with the tray on it? Then leave the tray out of the sum."
    ),
    DoubtKind.NOT_AS_PLANNED: N_(
        "That is %(now)s of meat, and %(before)s was planned for this piece. Is it the right "
        "piece, the unit, a digit too many or too few?"
    ),
    DoubtKind.NOT_LIKE_ITS_CUT: N_(
        "That is %(now)s of meat; such a cut has hardly ever more or less than %(before)s. Is it "
        "the right piece, the unit, a digit too many or too few?"
    ),
    DoubtKind.NOT_LIKE_SUCH_A_PART: N_(
        "That is %(now)s; such a thing has hardly ever more or less than %(before)s. Is it the "
        "unit, a digit too many or too few?"
    ),
    DoubtKind.WEIGHED_OTHERWISE: N_(
        "That is %(now)s, and the same was weighed before as %(before)s. Is it the right piece, "
        "the whole sum, two digits swapped?"
    ),
    DoubtKind.TWICE: N_(
        "The same weighing, %(now)s, was recorded less than a minute before. Was it sent twice?"
    ),
    DoubtKind.OTHER_COOK: N_("This piece belongs to the cook %(name)s. Is it the right piece?"),
    DoubtKind.OTHER_DAY: N_(
        "That is days away from its cook, %(name)s. Is it the right piece, the right date?"
    ),
    DoubtKind.RAW_AFTER_PULL: N_(
        "This piece was off the cooker before it was weighed raw. Is it the cooked meat, the right "
        "piece, the right time?"
    ),
    DoubtKind.COOKED_BEFORE_ON: N_(
        "This piece was weighed cooked before it went on. Is it the raw meat, the right piece, the "
        "right time?"
    ),
}


def meant_words(record: TrialRecord, meant: Meant) -> Words:
    """Say what may have been meant, as the answer to a question: "15.45 oz", "shoulder two"."""
    if meant.piece is not None:
        return next((one.name for one in record.pieces if one.id == meant.piece), meant.piece)
    if meant.sum is not None:
        return chained([part.words for part in meant.sum], " + ")
    return meant.written


def asked(record: TrialRecord, doubt: Doubt) -> Message:
    """Say what is odd, and ask for what may have been meant."""
    if not doubt.meant:
        return doubt_words(doubt)
    return N_(
        "%(odd)s Was %(meant)s meant?",
        odd=doubt_words(doubt),
        meant=Listed([meant_words(record, one) for one in doubt.meant], "or"),
    )
