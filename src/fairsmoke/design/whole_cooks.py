"""Layouts in which whole cooks are given an arm: what is repeated is the cook, not the piece."""

from collections.abc import Sequence

from fairsmoke.design.errors import DesignError
from fairsmoke.design.random_words import Chance
from fairsmoke.messages.message import N_
from fairsmoke.trial.plan import AtHand, Slot

LEAST_COOKS = 2
"""Cooks that each arm needs, or its cook and the arm are one."""


def cooks_and_room(at_hand: AtHand, n_arms: int) -> tuple[int, int]:
    """Return how many cooks there will be, as many of each arm, and the pieces in each.

    Raises DesignError where an arm would get fewer than two cooks.
    """
    pieces = len(at_hand.pieces)
    cooks = min(at_hand.cooks, pieces) // n_arms * n_arms
    if cooks < LEAST_COOKS * n_arms:
        raise DesignError(
            N_(
                "whole cooks are what is repeated, and each of the %(arms)s arms needs two of "
                "them: %(needed)s cooks with a piece or more; there are %(cooks)s, and "
                "%(pieces)s pieces",
                arms=n_arms,
                needed=LEAST_COOKS * n_arms,
                cooks=at_hand.cooks,
                pieces=pieces,
            )
        )
    room = pieces // cooks
    return cooks, min(room, len(at_hand.spots)) if at_hand.spots else room


def whole_cook_slots(at_hand: AtHand, arms: Sequence[str], chance: Chance) -> list[Slot]:
    """Draw which pieces share a cook, and which arm each cook gets, every order equally likely."""
    cooks, room = cooks_and_room(at_hand, len(arms))
    members = chance.shuffled(range(cooks * room))
    given = chance.shuffled([arm for arm in arms for _ in range(cooks // len(arms))])
    return [
        Slot(
            piece=at_hand.pieces[piece].id,
            arm=given[number // room],
            cook=number // room + 1,
            block=f"cook-{number // room + 1}",
            spot=at_hand.spots[number % room] if at_hand.spots else None,
        )
        for number, piece in enumerate(members)
    ]
