"""One blind tasting as drawn: who is handed which samples, in which order, under which codes.

Whoever hands out reads the server's list; whoever tastes sees only codes; the key, which says what
each code was, is sealed until the ballots are closed (`tasting.sealing`).
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from fairsmoke.design.random_words import Chance
from fairsmoke.tasting.codes import draw_codes
from fairsmoke.tasting.errors import TastingError
from fairsmoke.tasting.orders import Order, orders_of_test, serve_in_turn, serving_orders
from fairsmoke.tasting.protocols import TasteTest

ALGORITHM = "fairsmoke tasting 1"
"""Named in the key, so that others can draw it again."""
MOST_SETS = 12
"""Sets a taster is handed in one sitting; fatigue sets in well before (common practice)."""


@dataclass(frozen=True, slots=True)
class Cup:
    """One sample as it is handed over: its code, and what it is of.

    ``code`` is None for the named reference of a duo–trio.
    """

    code: int | None
    arm: str
    piece: str


@dataclass(frozen=True, slots=True)
class TasterSet:
    """What one taster is handed at once, in the order of tasting."""

    taster: str
    number: int
    cups: tuple[Cup, ...]

    @property
    def codes(self) -> tuple[int | None, ...]:
        """What the taster sees of it."""
        return tuple(cup.code for cup in self.cups)


@dataclass(frozen=True, slots=True)
class Session:
    """Every set of a tasting, from one seed."""

    seed: int
    sets: tuple[TasterSet, ...]
    algorithm: str = field(default=ALGORITHM)

    def correct(self, test: TasteTest, taster_set: TasterSet) -> frozenset[int]:
        """Return the codes that answer a set's question: the odd one, the like one, one pair.

        For a tetrad either pair of like samples is named; this is the pair of the first sample.

        Raises:
            TastingError: for a paired comparison, where no answer is the right one by itself.

        """
        cups = taster_set.cups
        counts = Counter(cup.arm for cup in cups)
        match test:
            case TasteTest.TRIANGLE:
                return _codes(cup for cup in cups if counts[cup.arm] == 1)
            case TasteTest.DUO_TRIO:
                return _codes(cup for cup in cups[1:] if cup.arm == cups[0].arm)
            case TasteTest.TETRAD:
                return _codes(cup for cup in cups if cup.arm == cups[0].arm)
            case TasteTest.PAIRED:
                raise TastingError("a paired comparison asks which has more; neither is right")


def draw_test_session(
    test: TasteTest,
    pieces: Mapping[str, Sequence[str]],
    tasters: Sequence[str],
    seed: int,
    *,
    sets: int = 1,
) -> Session:
    """Draw the sets of a test of two arms.

    ``pieces`` are the pieces of each arm; the samples of a set are of one piece an arm, and pieces
    go round, so that every piece is tasted as often as another. Every possible order is served
    equally often over the panel.

    Raises:
        TastingError: not two arms, an arm without a piece, no or repeated tasters, or more sets
            than anybody can taste.

    """
    arms = _checked(pieces, tasters, sets)
    if len(arms) != 2:
        raise TastingError(f"a {test} test compares two arms, not {len(arms)}: choose two of them")
    chance = Chance(seed)
    names = chance.shuffled(arms)
    orders = serve_in_turn(orders_of_test(test), len(tasters) * sets, chance)
    named = test is TasteTest.DUO_TRIO
    return _drawn(seed, pieces, tasters, names, orders, chance, first_is_named=named)


def draw_scoring_session(
    pieces: Mapping[str, Sequence[str]],
    tasters: Sequence[str],
    seed: int,
    *,
    sets: int = 1,
) -> Session:
    """Draw sets of one sample an arm, for scores, preference or ranking.

    Orders follow Williams' squares over the panel. Raises TastingError as `draw_test_session`.
    """
    arms = _checked(pieces, tasters, sets)
    chance = Chance(seed)
    orders = serving_orders(len(arms), len(tasters) * sets, chance)
    return _drawn(seed, pieces, tasters, arms, orders, chance)


def _drawn(
    seed: int,
    pieces: Mapping[str, Sequence[str]],
    tasters: Sequence[str],
    arms: Sequence[str],
    orders: Sequence[Order],
    chance: Chance,
    *,
    first_is_named: bool = False,
) -> Session:
    """Fill orders of arms, one a set and taster, with pieces and codes.

    All tasters have their first set before anybody has a second. The samples of one arm in a set
    are of one piece; ``first_is_named`` leaves the first sample without a code.
    """
    in_turn = {arm: _InTurn(pieces[arm], chance) for arm in pieces}
    used: set[int] = set()
    drawn = []
    for place, order in enumerate(orders):
        of = {arm: next(in_turn[arm]) for arm in pieces}
        codes: list[int | None] = list(draw_codes(len(order), chance, used=used))
        used |= {code for code in codes if code is not None}
        if first_is_named:
            codes[0] = None
        names = [arms[which] for which in order]
        cups = (Cup(code, arm, of[arm]) for code, arm in zip(codes, names, strict=True))
        number, taster = divmod(place, len(tasters))
        drawn.append(TasterSet(tasters[taster], number + 1, tuple(cups)))
    return Session(seed, tuple(drawn))


class _InTurn:
    """The pieces of an arm one after another, each round in random order."""

    def __init__(self, pieces: Sequence[str], chance: Chance) -> None:
        self._pieces, self._chance = pieces, chance
        self._left: list[str] = []

    def __next__(self) -> str:
        if not self._left:
            self._left = self._chance.shuffled(self._pieces)
        return self._left.pop()


def _checked(
    pieces: Mapping[str, Sequence[str]], tasters: Sequence[str], sets: int
) -> tuple[str, ...]:
    arms = tuple(pieces)
    if len(arms) < 2:
        raise TastingError("a tasting compares two arms or more")
    empty = [arm for arm in arms if not pieces[arm]]
    if empty:
        raise TastingError(f"no piece of {', '.join(empty)} is there to be tasted")
    if not tasters or len(set(tasters)) < len(tasters):
        raise TastingError("name every taster once; at least one")
    if not 1 <= sets <= MOST_SETS:
        raise TastingError(f"a taster is handed 1 to {MOST_SETS} sets in a sitting, not {sets}")
    return arms


def _codes(cups: Iterable[Cup]) -> frozenset[int]:
    return frozenset(cup.code for cup in cups if cup.code is not None)
