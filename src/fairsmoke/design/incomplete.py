"""Which arms share a cook when a cook has room for fewer than all of them."""

from collections import Counter
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from fairsmoke.design.errors import DesignError
from fairsmoke.design.exchange import FloatArray, criterion
from fairsmoke.design.random_words import Chance
from fairsmoke.messages.message import N_

STARTS = 30
STARTS_FOR_BALANCE = 500
"""Where the numbers allow a balanced layout it is worth looking for longer."""

_ALIKE = 1e-9

Blocks = tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Balance:
    """How often each arm is cooked (``r``) and every two arms are together (``together``)."""

    r: int
    together: int


def balance_possible(n_arms: int, size: int, n_blocks: int) -> Balance | None:
    """Return what a balanced layout would have, None when its numbers cannot come out.

    Needed are b k = v r, λ (v - 1) = r (k - 1) in whole numbers, and b at least v (R. A. Fisher,
    Annals of Eugenics 10:52, 1940). They do not suffice, but do for all layouts this small.

    >>> balance_possible(7, 3, 7)
    Balance(r=3, together=1)
    """
    if not 2 <= size < n_arms or n_blocks < n_arms:
        return None
    r, left = divmod(n_blocks * size, n_arms)
    together, more = divmod(r * (size - 1), n_arms - 1)
    return None if left or more else Balance(r, together)


def balance_of(blocks: Blocks, n_arms: int) -> Balance | None:
    """Return the numbers of a layout that is balanced, None for one that is not."""
    times = Counter(arm for block in blocks for arm in block)
    pairs = Counter(pair for block in blocks for pair in combinations(sorted(block), 2))
    r = {times[arm] for arm in range(n_arms)}
    together = {pairs[pair] for pair in combinations(range(n_arms), 2)}
    return Balance(r.pop(), together.pop()) if len(r) == len(together) == 1 else None


def incomplete_blocks(n_arms: int, size: int, n_blocks: int, chance: Chance) -> Blocks:
    """Return ``n_blocks`` sets of ``size`` different arms that tell all arms apart best.

    Found by exchanging one set for another as long as the A-criterion falls, from several starts,
    stopping at a balanced layout, than which none is better. Of sets larger than half of the arms
    the arms left out are looked for: they are as balanced and fewer. Then the arms are put on it
    in random order and the sets are shuffled.

    Raises DesignError when so few cooks cannot join all arms.
    """
    if n_blocks * (size - 1) < n_arms - 1:
        needed = -(-(n_arms - 1) // (size - 1)) if size > 1 else 0
        mend = (
            N_("plan at least %(needed)s cooks, or compare fewer arms", needed=needed)
            if needed
            else N_("find room for at least two pieces in a cook")
        )
        raise DesignError(
            N_(
                "%(cooks)s cooks of %(size)s pieces cannot join %(arms)s arms with each other: "
                "%(mend)s",
                cooks=n_blocks,
                size=size,
                arms=n_arms,
                mend=mend,
            )
        )
    balanced = balance_possible(n_arms, size, n_blocks) is not None
    if balanced and n_arms - size >= 2 and 2 * size > n_arms:
        whole = set(range(n_arms))
        others = _searched(n_arms, n_arms - size, n_blocks, chance, STARTS_FOR_BALANCE)
        best = [tuple(sorted(whole - set(one))) for one in others]
    else:
        starts = STARTS_FOR_BALANCE if balanced else STARTS
        best = _searched(n_arms, size, n_blocks, chance, starts)
    names = chance.order(n_arms)
    sets = [tuple(sorted(names[arm] for arm in one)) for one in best]
    return tuple(chance.shuffled(sets))


def _searched(
    n_arms: int, size: int, n_blocks: int, chance: Chance, starts: int
) -> list[tuple[int, ...]]:
    subsets = list(combinations(range(n_arms), size))
    each = np.array([_information(one, n_arms) for one in subsets])
    best = _climbed(each, n_blocks, chance)
    best_cost = float(criterion(each[best].sum(axis=0)))
    for _ in range(starts):
        if balance_of(tuple(subsets[i] for i in best), n_arms) is not None:
            break
        other = _climbed(each, n_blocks, chance)
        cost = float(criterion(each[other].sum(axis=0)))
        if cost < best_cost - _ALIKE:
            best, best_cost = other, cost
    return [subsets[i] for i in best]


def _information(one: tuple[int, ...], n_arms: int) -> FloatArray:
    """Return what one set tells of the arms once its level is taken out."""
    held = np.zeros(n_arms)
    held[list(one)] = 1.0
    return np.asarray(np.diag(held) - np.outer(held, held) / len(one))


def _climbed(each: FloatArray, n_blocks: int, chance: Chance) -> list[int]:
    n = len(each)
    # Whole rounds through all sets first, so that none is repeated before all are used.
    chosen = [i for _ in range(-(-n_blocks // n)) for i in chance.order(n)][:n_blocks]
    total = each[chosen].sum(axis=0)
    cost = float(criterion(total))
    while True:
        steps = [(place, other) for place in range(n_blocks) for other in range(n)]
        totals = np.array([total - each[chosen[place]] + each[other] for place, other in steps])
        costs = criterion(totals)
        at = int(np.argmin(costs))
        if not costs[at] < cost - _ALIKE:
            return chosen
        place, other = steps[at]
        chosen[place] = other
        total, cost = totals[at], float(costs[at])
