"""What the script of the weighing page needs to ask about a slip without a connection."""

from collections.abc import Sequence
from typing import Any

from fairsmoke.app.page import Page
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import parse_mass
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.question import Trial
from fairsmoke.trial.weighing import MeatState, PartKind, Weighing
from fairsmoke.weighing import plausible
from fairsmoke.weighing.doubt_words import odd
from fairsmoke.weighing.plausible import DoubtKind


def weigh_data(
    page: Page, book: Notebook, trial: Trial, weighings: Sequence[Weighing]
) -> dict[str, Any]:
    """Return the rules, the pieces and what was weighed before, as the script takes them."""
    pieces = book.list(Piece, trial=trial.id)
    plan = next(iter(book.list(Plan, trial=trial.id)), None)
    planned = {one.id: one.mass_kg for one in plan.at_hand.pieces} if plan is not None else {}
    return {
        "rules": rules(),
        # The script puts the masses in.
        "words": {
            kind.value: page.way.say(odd(kind, "{now}", "{before}", "")) for kind in DoubtKind
        },
        "pieces": {
            one.id: {
                "name": one.name,
                "cook": one.cook,
                "injected": one.injected,
                "planned": planned.get(one.id),
                "raw": plausible.raw_range_kg(one.cut),
            }
            for one in pieces
        },
        "weighings": [
            {
                "piece": one.piece or "",
                "sum": [part.text for part in one.sum],
                "kg": one.reading_kg,
                "at": one.at.isoformat() if one.at else None,
            }
            for one in weighings
        ],
    }


def rules() -> dict[str, Any]:
    """Return the limits of `fairsmoke.weighing.plausible`, which the script holds entries to."""
    return {
        "order": [state.value for state in MeatState],
        "units": {unit: parse_mass(f"1 {unit}") for unit in ("kg", "g", "lb", "oz")},
        "unknownPart": plausible.UNKNOWN_PART_KG,
        "gain": plausible.GAIN_KG,
        "gainShare": plausible.GAIN_SHARE,
        "leastLeft": {" ".join(key): share for key, share in plausible.LEAST_LEFT.items()},
        "mostLeft": plausible.MOST_LEFT,
        "planned": plausible.PLANNED_SHARE,
        "other": {kind.value: ends for kind, ends in plausible.OTHER_KG.items()},
        "kinds": [kind.value for kind in PartKind],
        "twiceWithin": plausible.TWICE_WITHIN.total_seconds(),
        "mostMeant": plausible.MOST_MEANT,
    }
