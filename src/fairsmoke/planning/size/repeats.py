"""Layouts of n repeats of one block: what 1 to 12 pairs look like to the comparison."""

from dataclasses import dataclass

import numpy as np

from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.messages.message import N_
from fairsmoke.planning.errors import PlanError


@dataclass(frozen=True, slots=True)
class Block:
    """What is repeated: one piece of every arm (a pair, where there are two arms).

    Attributes:
        arms: number of arms.
        each: pieces of every arm in a block.
        per_cook: blocks cooked at the same time; 1 means a cook for every pair.
        positions: whether the pieces of a cook stand in places that may differ; arms change
            places from block to block as evenly as goes.
        whole: whole cooks are given an arm: a block is a cook of every arm, with `each` pieces.
        from_one: what the pieces of a block are cut from: "" for unrelated pieces, "parent" for
            parts of one piece, "animal" for pieces of one animal.

    Raises:
        PlanError: a count below 1, fewer than two arms, or an unknown origin.

    """

    arms: int = 2
    each: int = 1
    per_cook: int = 1
    positions: bool = True
    from_one: str = ""
    whole: bool = False

    def __post_init__(self) -> None:
        if self.arms < 2:
            raise PlanError(f"a comparison needs two arms or more, not {self.arms}")
        if self.each < 1 or self.per_cook < 1:
            raise PlanError(
                f"pieces of an arm in a block and blocks in a cook are 1 or more, not "
                f"{self.each} and {self.per_cook}"
            )
        if self.whole and (self.from_one or self.per_cook != 1):
            raise PlanError(
                N_("where whole cooks are given an arm, pieces make no pairs within a cook")
            )
        if self.from_one not in ("", "parent", "animal"):
            raise PlanError(
                f"pieces of a block are from one 'parent' or one 'animal', or neither, not "
                f"'{self.from_one}'"
            )

    @property
    def pieces(self) -> int:
        """Pieces in a block."""
        return self.arms * self.each

    def cooks(self, blocks: int) -> int:
        """Return how many cooks that many blocks take."""
        return blocks * self.arms if self.whole else -(-blocks // self.per_cook)

    @property
    def apart(self) -> tuple[str, ...]:
        """Factors in which the pieces of one block differ."""
        return (*(("cook",) if self.whole else ()), *(("position",) if self.positions else ()))

    @property
    def factors(self) -> tuple[str, ...]:
        """Factors that a layout of such blocks may have."""
        return tuple(dict.fromkeys(("cook", *filter(None, (self.from_one,)), *self.apart)))

    def layout(self, blocks: int) -> ComparisonLayout:
        """Return the layout of that many blocks, with the factors that judging would find.

        Raises:
            PlanError: no block.

        """
        if blocks < 1:
            raise PlanError(f"there must be one block or more, not {blocks}")
        block = np.repeat(np.arange(blocks), self.pieces)
        arm = np.tile(np.repeat(np.arange(self.arms), self.each), blocks)
        cook = block * self.arms + arm if self.whole else block // self.per_cook
        names = tuple(f"arm {number + 1}" for number in range(self.arms))
        labels = {"cook": cook} if cook.max() > 0 else {}
        if self.from_one:
            labels[self.from_one] = block
        if self.positions and self.whole:
            labels["position"] = np.tile(np.arange(self.each), blocks * self.arms)
        elif self.positions:
            slot = np.tile(np.arange(self.pieces), blocks)
            turned = (slot + block) % self.pieces
            labels["position"] = (block % self.per_cook) * self.pieces + turned
        return ComparisonLayout(arm, names, {k: v.astype(np.intp) for k, v in labels.items()})
