"""Three-digit codes of samples: drawn by chance, new for every taster and set, never alike."""

from collections.abc import Collection

from fairsmoke.design.random_words import Chance
from fairsmoke.tasting.errors import TastingError

LOWEST, HIGHEST = 100, 999
"""Three digits; random three-digit codes are common practice of sensory panels."""


_POSSIBLE = tuple(
    code for code in range(LOWEST, HIGHEST + 1) if code % 100 and len(set(str(code))) > 1
)


def alike(one: int, other: int) -> bool:
    """Tell whether two codes could be taken for one another when read or heard.

    Alike are codes with two digits the same in their places (417 and 418), and the same three
    digits in another order (417 and 471).
    """
    a, b = str(one), str(other)
    same_place = sum(x == y for x, y in zip(a, b, strict=True))
    return same_place >= 2 or sorted(a) == sorted(b)


def draw_codes(count: int, chance: Chance, *, used: Collection[int] = ()) -> tuple[int, ...]:
    """Return so many codes for one set: none used before, no two of them alike.

    Every code that is left is equally likely for the first sample; later ones leave out what is
    alike. A repeated digit (333) and a round hundred are left out, since they stick in the mind.

    Raises:
        TastingError: more codes than can be told apart, or than are left.

    """
    left = [code for code in _POSSIBLE if code not in used]
    drawn: list[int] = []
    for _ in range(count):
        left = [code for code in left if not any(alike(code, one) for one in drawn)]
        if not left:
            raise TastingError(
                f"no {count} codes are left that can be told apart; begin a new tasting"
            )
        drawn.append(chance.one_of(left))
    return tuple(drawn)
