"""What a taster is asked: the test protocols of the sensory standards."""

from enum import StrEnum


class TasteTest(StrEnum):
    """A protocol with a right answer, by which a difference or likeness can be shown."""

    TRIANGLE = "triangle"
    """Three samples, two alike: which is the odd one? (ISO 4120)"""
    TETRAD = "tetrad"
    """Four samples, two and two alike: which belong together? (ASTM E3009)"""
    DUO_TRIO = "duo-trio"
    """A reference and two samples: which is like the reference? (ISO 10399)"""
    PAIRED = "paired comparison"
    """Two samples: which is more …? (ISO 5495)"""

    @property
    def guess(self) -> float:
        """The probability of a correct answer by guessing."""
        return 1 / 3 if self in (TasteTest.TRIANGLE, TasteTest.TETRAD) else 1 / 2

    def chance(self, share: float) -> float:
        """Return the probability of a correct answer where ``share`` tell the samples apart."""
        return self.guess + (1.0 - self.guess) * share

    @property
    def samples(self) -> int:
        """How many samples stand before a taster, a named reference among them."""
        return {"triangle": 3, "tetrad": 4, "duo-trio": 3, "paired comparison": 2}[self.value]
