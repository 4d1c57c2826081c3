"""Chance that anyone can make again: the 64-bit words of PCG64, and whole numbers from them.

NumPy promises the words of a bit generator for a seed for ever, but not what its ready-made
methods make of them (NEP 19); so only the words are used, and the little that is made of them
stands here.
"""

from collections.abc import Sequence
from typing import TypeVar

import numpy as np

T = TypeVar("T")

_WORD = 2**64


class Chance:
    """Whole numbers by chance from a seed, a whole number from 0.

    >>> Chance(7).order(5) == Chance(7).order(5)
    True
    """

    def __init__(self, seed: int) -> None:
        self._words = np.random.PCG64(seed)

    def below(self, n: int) -> int:
        """Return a whole number from 0 to n - 1, each equally likely.

        As many words as n needs make one number, the first word the heaviest; numbers in the
        incomplete last stretch of n are thrown away.
        """
        if n < 1:
            raise ValueError(f"there is no whole number below {n} to choose")
        words, span = 1, _WORD
        while span < n:
            words, span = words + 1, span * _WORD
        limit = span - span % n
        while True:
            number = 0
            for _ in range(words):
                number = number * _WORD + int(self._words.random_raw())
            if number < limit:
                return number % n

    def order(self, n: int) -> list[int]:
        """Return 0 … n - 1 in random order: from the last place down, each swapped with one of
        those up to it (Fisher and Yates; Durstenfeld 1964).
        """
        found = list(range(n))
        for last in range(n - 1, 0, -1):
            other = self.below(last + 1)
            found[last], found[other] = found[other], found[last]
        return found

    def shuffled(self, things: Sequence[T]) -> list[T]:
        """Return things in random order."""
        return [things[place] for place in self.order(len(things))]

    def one_of(self, things: Sequence[T]) -> T:
        """Return one of several things, each equally likely."""
        return things[self.below(len(things))]
