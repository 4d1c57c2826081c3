"""The layouts that a draw could have given, and the least-squares contrast of two arms in each.

Helpers of `fairsmoke.judging.randomisation`; everything here takes and returns plain arrays.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import reduce
from itertools import chain, combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fairsmoke.design.errors import DesignError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

_CHUNK_ROWS = 1 << 13


def arrangements(labels: IntArray) -> NDArray[np.int16]:
    """All distinct orders of a small multiset of labels (m,), one a row (k, m)."""
    distinct = np.unique(labels)
    if len(distinct) <= 1:
        return labels.astype(np.int16).reshape(1, -1)
    m, head = len(labels), distinct[0]
    n_head = int(np.sum(labels == head))
    # int16 and no list of tuples: a block of 22 has 700,000 orders.
    flat = np.fromiter(chain.from_iterable(combinations(range(m), n_head)), dtype=np.int16)
    chosen = flat.reshape(-1, n_head)
    is_head = np.zeros((len(chosen), m), dtype=bool)
    np.put_along_axis(is_head, chosen, True, axis=1)
    rest = arrangements(labels[labels != head])
    free = np.nonzero(~is_head)[1].reshape(len(chosen), -1)
    out = np.full((len(chosen), len(rest), m), head, dtype=np.int16)
    np.put_along_axis(out, free[:, None, :], rest[None, :, :], axis=2)
    return out.reshape(-1, m)


def arrangement_count(labels: IntArray) -> int:
    """How many distinct orders a multiset of labels has, without listing them."""
    counts = np.unique(labels, return_counts=True)[1]
    return math.factorial(len(labels)) // math.prod(math.factorial(int(c)) for c in counts)


@dataclass(frozen=True, eq=False)
class ContrastRows:
    """The rows that a test uses: arms and blocks as 0, 1, … and which rows may change arm.

    `arms`, `blocks`, `free` have shape (n,); `first` and `second` are the arms compared.
    """

    arms: IntArray
    blocks: IntArray
    free: BoolArray
    first: int
    second: int

    def free_by_block(self) -> list[IntArray]:
        """For each block with any, the row numbers that may change arm, shape (m,)."""
        found = (np.flatnonzero((self.blocks == b) & self.free) for b in np.unique(self.blocks))
        return [rows for rows in found if rows.size]

    def layout_count(self) -> int:
        """How many layouts permuting within blocks can give."""
        return math.prod(arrangement_count(self.arms[rows]) for rows in self.free_by_block())


def has_company(
    labels: NDArray[np.generic], blocks: NDArray[np.generic], present: BoolArray
) -> BoolArray:
    """Which rows stand in a block where at least two arms are present."""
    company = np.zeros(len(labels), dtype=bool)
    for block in np.unique(blocks):
        here = blocks == block
        company |= here & (len(np.unique(labels[here & present])) > 1)
    return company


def possible_layouts(
    layouts: NDArray[np.generic], labels: NDArray[np.generic], fixed: BoolArray
) -> NDArray[np.generic]:
    """The listed layouts that leave the `fixed` rows with the arm they had."""
    if layouts.ndim != 2 or layouts.shape[1] != len(labels):
        raise DesignError(
            f"draw.layouts has shape {layouts.shape}: give one layout a row, "
            f"with {len(labels)} arm labels each."
        )
    if not np.any(np.all(layouts == labels, axis=1)):
        raise DesignError(
            "the layout cooked is not among draw.layouts, so the draw described is not the one "
            "that was made: list every layout it could have given."
        )
    return layouts[np.all(layouts[:, fixed] == labels[fixed], axis=1)]


@dataclass(frozen=True, eq=False)
class Lost:
    """Which rows a test uses, and how many it could not use."""

    used: BoolArray
    n_missing: int
    n_partnerless: int


def prepare_rows(
    response: ArrayLike,
    arms: ArrayLike,
    blocks_given: ArrayLike,
    layouts_given: ArrayLike | None,
    first: int,
    second: int,
    hold_other_arms: bool,
) -> tuple[FloatArray, ContrastRows, IntArray | None, Lost]:
    """Check the input, leave out what is missing, and number arms and blocks 0, 1, …"""
    y, labels, blocks = np.asarray(response, np.float64), np.asarray(arms), np.asarray(blocks_given)
    if y.ndim != 1 or labels.shape != y.shape or blocks.shape != y.shape:
        raise DesignError(
            f"response, arms and draw.blocks have shapes {y.shape}, {labels.shape} and "
            f"{blocks.shape}: give one number and one label each for every piece."
        )
    if np.any(np.isinf(y)):
        row = int(np.flatnonzero(np.isinf(y))[0])
        raise DesignError(f"response row {row} is infinite: mend it, or give NaN if lost.")
    if first == second:
        raise DesignError(f"first and second are both arm {first}: compare two arms.")
    missing = np.isnan(y)
    used = ~missing
    if layouts_given is None:
        used &= has_company(labels, blocks, ~missing)
    lost = Lost(used, int(missing.sum()), int(np.sum(~missing & ~used)))
    for arm in (first, second):
        if arm not in labels[used]:
            raise DesignError(f"no piece of arm {arm} is left that can be compared.")
    free = np.isin(labels, [first, second]) if hold_other_arms else np.ones(len(y), bool)
    names, coded = np.unique(labels[used], return_inverse=True)
    rows = ContrastRows(
        arms=coded.astype(np.intp),
        blocks=np.unique(blocks[used], return_inverse=True)[1].astype(np.intp),
        free=free[used],
        first=int(np.searchsorted(names, first)),
        second=int(np.searchsorted(names, second)),
    )
    if layouts_given is None:
        return y[used], rows, None, lost
    possible = possible_layouts(np.asarray(layouts_given), labels, missing | ~free)[:, used]
    if not np.all(np.isin(possible, names)):
        raise DesignError("draw.layouts holds an arm that no piece with a response had.")
    return y[used], rows, np.searchsorted(names, possible).astype(np.intp), lost


def code_factor(labels: ArrayLike, used: BoolArray, name: str) -> IntArray:
    """The labels of the used rows as 0, 1, …"""
    given = np.asarray(labels)
    if given.shape != used.shape:
        raise DesignError(
            f"{name} has shape {given.shape}: give one label for each of {len(used)} pieces."
        )
    return np.unique(given[used], return_inverse=True)[1].astype(np.intp)


def block_scores(rows: ContrastRows) -> FloatArray:
    """What each arm label is worth in the block-adjusted contrast, shape (number of arms,).

    With y centred within blocks, the least-squares estimate of second − first in the model
    "block + arm" is Σᵢ score[armᵢ]·yᵢ. The scores depend only on how many pieces of each arm
    stand in each block, so they are the same for every layout that permutes within blocks.

    Raises DesignError when no chain of blocks joins the two arms.
    """
    n_arms = int(rows.arms.max()) + 1
    counts = np.zeros((int(rows.blocks.max()) + 1, n_arms))
    np.add.at(counts, (rows.blocks, rows.arms), 1.0)
    sizes = counts.sum(axis=1)
    information = np.diag(counts.sum(axis=0)) - counts.T @ (counts / sizes[:, None])
    contrast = np.zeros(n_arms)
    contrast[rows.second], contrast[rows.first] = 1.0, -1.0
    scores: FloatArray = np.linalg.pinv(information, hermitian=True) @ contrast
    if not np.allclose(information @ scores, contrast, atol=1e-8):
        raise DesignError(
            "no block holds both arms, and no chain of blocks joins them, so the difference "
            "between the arms cannot be told from the difference between the blocks: "
            "compare arms that were cooked in the same block."
        )
    return scores


def centred_in_blocks(columns: FloatArray, blocks: IntArray) -> FloatArray:
    """Take each block's mean out of columns (n, c)."""
    sums = np.zeros((int(blocks.max()) + 1, columns.shape[1]))
    np.add.at(sums, blocks, columns)
    centred: FloatArray = columns - (sums / np.bincount(blocks)[:, None])[blocks]
    return centred


def all_block_contrasts(rows: ContrastRows, columns: FloatArray) -> FloatArray:
    """The contrast of columns (n, c) in every layout that permutes within blocks, shape (k, c).

    The contrast is a sum over blocks, so the blocks' own lists are combined by outer sums.
    """
    scores, centred = block_scores(rows), centred_in_blocks(columns, rows.blocks)
    fixed = scores[rows.arms[~rows.free]] @ centred[~rows.free]
    parts = [scores[arrangements(rows.arms[at])] @ centred[at] for at in rows.free_by_block()]
    return reduce(
        lambda total, part: (total[:, None, :] + part[None, :, :]).reshape(-1, total.shape[1]),
        parts,
        fixed.reshape(1, -1),
    )


def random_block_contrasts(
    rows: ContrastRows, columns: FloatArray, n_random: int, rng: np.random.Generator
) -> FloatArray:
    """The contrast of columns (n, c) in `n_random` layouts drawn anew within blocks."""
    scores, centred = block_scores(rows), centred_in_blocks(columns, rows.blocks)
    total = np.tile(scores[rows.arms[~rows.free]] @ centred[~rows.free], (n_random, 1))
    for at in rows.free_by_block():
        for part in _slices(n_random):
            size = part.stop - part.start
            drawn = rng.permuted(np.tile(rows.arms[at], (size, 1)), axis=1)
            total[part] += scores[drawn] @ centred[at]
    return total


def block_layouts(rows: ContrastRows) -> IntArray:
    """Every layout that permutes within blocks, one a row (k, n)."""
    parts = [arrangements(rows.arms[at]) for at in rows.free_by_block()]
    lengths = [len(part) for part in parts]
    layouts = np.tile(rows.arms, (math.prod(lengths), 1))
    picks = np.unravel_index(np.arange(len(layouts)), lengths) if lengths else ()
    for at, part, pick in zip(rows.free_by_block(), parts, picks, strict=True):
        layouts[:, at] = part[pick]
    return layouts


def random_block_layouts(rows: ContrastRows, n_random: int, rng: np.random.Generator) -> IntArray:
    """`n_random` layouts drawn anew within blocks, one a row (k, n)."""
    layouts = np.tile(rows.arms, (n_random, 1))
    for at in rows.free_by_block():
        layouts[:, at] = rng.permuted(layouts[:, at], axis=1)
    return layouts


def contrast_weights(
    layouts: IntArray, rows: ContrastRows, nuisance: list[IntArray]
) -> Iterator[FloatArray]:
    """Chunks (k, n) of the weights v with v·y = least-squares second − first in each layout.

    The model is "arm + every nuisance factor". Used where the weights change from layout to
    layout: listed layouts, and factors that cross the blocks. Layouts in which the arms cannot be
    told apart from the factors (one arm always on the right) are left out.
    """
    residual_maker = _residual_maker(nuisance, len(rows.arms))
    others = [a for a in range(int(rows.arms.max()) + 1) if a != rows.first]
    for part in _slices(len(layouts)):
        indicators = (layouts[part][:, None, :] == np.array(others)[:, None]).astype(np.float64)
        swept = indicators @ residual_maker
        information = swept @ indicators.transpose(0, 2, 1)
        pick = np.zeros(len(others))
        pick[others.index(rows.second)] = 1.0
        # A pseudo-inverse, since arms that are not compared may stand apart from the rest.
        values, axes = np.linalg.eigh(information)
        kept = 1.0 / np.where(values > 1e-9, values, np.inf)
        coefficients = np.einsum("kab,kb,kcb,c->ka", axes, kept, axes, pick)
        recovered = np.einsum("kab,kb->ka", information, coefficients)
        clear = np.all(np.abs(recovered - pick) < 1e-6, axis=1)
        yield np.einsum("ka,kan->kn", coefficients[clear], swept[clear])


def _residual_maker(nuisance: list[IntArray], n: int) -> FloatArray:
    columns = [np.ones((n, 1))]
    columns += [(factor[:, None] == np.unique(factor)).astype(np.float64) for factor in nuisance]
    left, size, _ = np.linalg.svd(np.hstack(columns), full_matrices=False)
    basis = left[:, size > 1e-9 * size[0]]
    maker: FloatArray = np.eye(n) - basis @ basis.T
    return maker


def _slices(total: int) -> Iterator[slice]:
    for start in range(0, total, _CHUNK_ROWS):
        yield slice(start, min(start + _CHUNK_ROWS, total))
