"""In which order samples are served: balanced for place, and for what was tasted just before.

Sets of whole samples (scores, rankings, preference) follow Williams' squares. Triangles, tetrads
and duo–trios use each of their possible orders equally often.
"""

from itertools import permutations

from fairsmoke.design.latin import williams_orders
from fairsmoke.design.random_words import Chance
from fairsmoke.tasting.errors import TastingError
from fairsmoke.tasting.protocols import TasteTest

Order = tuple[int, ...]

MOST_SAMPLES = 12
"""In one set; fatigue sets in well before."""


def orders_of_test(test: TasteTest) -> tuple[Order, ...]:
    """Return every order of a test's set, by arm (0 or 1) in the order of serving.

    A duo–trio's first sample is the reference. From memory, standard combinatorics: six triangles,
    six tetrads, four duo–trios, two pairs.
    """
    match test:
        case TasteTest.PAIRED:
            return ((0, 1), (1, 0))
        case TasteTest.DUO_TRIO:
            return tuple((ref, first, 1 - first) for ref in (0, 1) for first in (0, 1))
        case TasteTest.TRIANGLE:
            sets = {order for odd in (0, 1) for order in permutations((odd, 1 - odd, 1 - odd))}
            return tuple(sorted(sets))
        case TasteTest.TETRAD:
            return tuple(sorted(set(permutations((0, 0, 1, 1)))))


def serve_in_turn(orders: tuple[Order, ...], tasters: int, chance: Chance) -> list[Order]:
    """Return one order a taster: each order equally often, as far as the panel's size allows.

    Whole rounds of all orders, each in random order; a last part of a round is drawn from them.

    Raises:
        TastingError: no taster.

    """
    if tasters < 1:
        raise TastingError("at least one taster is needed")
    served: list[Order] = []
    while len(served) < tasters:
        served += chance.shuffled(orders)
    return served[:tasters]


def serving_orders(samples: int, tasters: int, chance: Chance) -> list[Order]:
    """Return one order of whole samples a taster, by Williams' squares with arms drawn into them.

    In every whole round each sample stands in each place, and follows each other, equally often.

    Raises:
        TastingError: fewer than two samples, more than a dozen, or no taster.

    """
    if not 2 <= samples <= MOST_SAMPLES:
        raise TastingError(f"a set has 2 to {MOST_SAMPLES} samples, not {samples}")
    if tasters < 1:
        raise TastingError("at least one taster is needed")
    served: list[Order] = []
    while len(served) < tasters:
        names = chance.order(samples)
        square = tuple(tuple(names[place] for place in row) for row in williams_orders(samples))
        served += chance.shuffled(square)
    return served[:tasters]
