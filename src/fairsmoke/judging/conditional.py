"""The Gaussian answer when the spreads are known, at many sets of spreads at once.

Response = level of its arm + effects of the grouping factors + piece-to-piece error + known
measurement error. Pieces that share no label form blocks that are independent of one another;
factors whose few labels run across the whole trial (positions) are kept out of the blocks and
carried as unknowns with a prior, as the arms are. Blocks that look alike share their inverse, and
all that the data say is held in sums of products, so that the cost does not grow with their number.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt
import scipy

from fairsmoke.judging.priors import FloatArray

IntArray = npt.NDArray[np.intp]

# Multiplications in one matrix product of a chunk of nodes. It keeps the chunk in the processor's
# cache, and below the size at which linear algebra libraries start threads: with products this
# thin those cost more than they save, several times over on a busy machine.
_CHUNK = 1 << 18
# Least piece variance as a share of the variances beside it.
_FLOOR = 1e-10


@dataclass(frozen=True, slots=True, eq=False)
class _Blocks:
    """All kinds of block of one size b; nb kinds.

    kernels (1 + K within, nb, b, b): identity for the piece, then same-label matrices.
    known (nb, b, b): covariance of the measurements. products (nb, b*b, p*p): summed over the
    blocks of a kind, what the inverse is to be multiplied by. counts (nb,): blocks of each kind.
    kind (m,), rows (m, b), design (m, b, p): of each of the m blocks its kind, its pieces and what
    they hold; `single` where each kind has one large block, for which solving is cheaper.
    """

    kernels: FloatArray
    known: FloatArray
    products: FloatArray
    counts: FloatArray
    kind: IntArray
    rows: IntArray
    design: FloatArray
    single: bool


@dataclass(frozen=True, slots=True, eq=False)
class ComparisonSystem:
    """The data of a comparison, reduced once to what the evaluation at given spreads needs.

    Attributes:
        n: number of pieces; level, root: prior mean and (J, J) square root of the prior covariance
            of the arm levels.
        blocks: the blocks by size; within, across: which factors (0-based) are in blocks and which
            are unknowns of their own; columns: the factor of each across unknown, (q,).

    """

    n: int
    level: float
    root: FloatArray
    blocks: tuple[_Blocks, ...]
    within: tuple[int, ...]
    across: tuple[int, ...]
    columns: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class ConditionalPosteriors:
    """The answer at G sets of spreads.

    Attributes:
        log_likelihood: (G,). means: of the arm levels (G, J). covariances: theirs (G, J, J).

    """

    log_likelihood: FloatArray
    means: FloatArray
    covariances: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class OddAnswers:
    """The answer at G sets of spreads when no piece is odd, and when each of n is the odd one.

    More variance of one piece is a rank-one change, so all n answers follow from the first one.

    Attributes:
        plain: the answer when none is odd.
        shares: of none and of each piece being the odd one, given the spreads, (G, 1 + n).
        log_likelihood: over all of these, (G,).
        shifts, stretches: with piece i odd the arm means are those of `plain` plus shifts[:, i],
            and their covariance has the square of stretches[:, i] added, (G, n, J) each.

    """

    plain: ConditionalPosteriors
    shares: FloatArray
    log_likelihood: FloatArray
    shifts: FloatArray
    stretches: FloatArray

    def collapsed(self) -> ConditionalPosteriors:
        """Return the mean and covariance over which piece is odd."""
        own = self.shares[:, 1:]
        shift = np.einsum("gn,gnj->gj", own, self.shifts)
        both = np.concatenate([self.shifts, self.stretches], axis=1)
        weighted = np.concatenate([own, own], axis=1)[:, :, None] * both
        square = both.swapaxes(1, 2) @ weighted
        square -= shift[:, :, None] * shift[:, None, :]
        return ConditionalPosteriors(
            self.log_likelihood, self.plain.means + shift, self.plain.covariances + square
        )

    def components(self) -> tuple[FloatArray, FloatArray]:
        """Return means (G, 1 + n, J) and covariances (G, 1 + n, J, J)."""
        none = np.zeros((len(self.shares), 1, self.shifts.shape[2]))
        shifts = np.concatenate([none, self.shifts], axis=1)
        stretches = np.concatenate([none, self.stretches], axis=1)
        more = stretches[:, :, :, None] * stretches[:, :, None, :]
        return self.plain.means[:, None] + shifts, self.plain.covariances[:, None] + more


def arm_root(mu_sd: float, difference_sd: float, arms: int) -> FloatArray:
    """Return a lower-triangular (J, J) square root of the prior covariance of the arm levels.

    Level and arm effects are independent, so the covariance is mu_sd^2 everywhere plus
    difference_sd^2 / 2 on the diagonal. Taken from a QR factorisation, which keeps its digits when
    mu_sd is a million times difference_sd.
    """
    parts = np.vstack([np.full((1, arms), mu_sd), difference_sd / np.sqrt(2.0) * np.eye(arms)])
    upper = np.linalg.qr(parts, mode="reduced").R
    return np.ascontiguousarray(upper.T)


def build(
    response: FloatArray,
    arm: IntArray,
    factors: Sequence[IntArray],
    known: FloatArray,
    *,
    level: float,
    root: FloatArray,
    like: ComparisonSystem | None = None,
) -> ComparisonSystem:
    """Reduce the data.

    Args:
        response: (n,), no gaps.
        arm: (n,) numbers 0 .. J-1.
        factors: K arrays (n,) of labels 0 .. L_k - 1.
        known: (n, n) covariance of the measurement errors.
        level, root: as in `ComparisonSystem`.
        like: a system of the same pieces with another response, to be cut into blocks alike.

    """
    within = _cheapest(factors, known, len(root)) if like is None else like.within
    across = tuple(k for k in range(len(factors)) if k not in within)
    indicators = [np.eye(int(factors[k].max()) + 1)[factors[k]] for k in across]
    columns = np.repeat(np.array(across, dtype=np.intp), [z.shape[1] for z in indicators])
    design = np.column_stack([response - level, root[arm], *indicators])
    same = np.stack([np.eye(len(arm)), *(_same(factors[k]) for k in within)])
    blocks = _group(same, known, design)
    return ComparisonSystem(len(arm), level, root, blocks, within, across, columns)


def _same(labels: IntArray) -> FloatArray:
    """Return the (n, n) matrix that is 1 where two pieces share their label."""
    return np.asarray(labels[:, None] == labels[None, :], dtype=np.float64)


def _components(factors: Sequence[IntArray], known: FloatArray) -> list[IntArray]:
    """Return the rows of each set of pieces that labels or measurement errors tie together."""
    tied = known != 0.0
    for labels in factors:
        tied = tied | (_same(labels) > 0.0)
    count, member = scipy.sparse.csgraph.connected_components(tied, directed=False)
    # Pieces of one label side by side, so that blocks of one kind also look alike.
    order = np.lexsort(tuple(factors)) if factors else np.arange(len(known))
    return [order[member[order] == c] for c in range(count)]


def _cheapest(factors: Sequence[IntArray], known: FloatArray, arms: int) -> tuple[int, ...]:
    """Return which factors to keep in the blocks, so that one evaluation costs least."""
    best: tuple[int, ...] = ()
    cost = np.inf
    for size in range(len(factors), -1, -1):
        for kept in combinations(range(len(factors)), size):
            others = [k for k in range(len(factors)) if k not in kept]
            unknowns = arms + sum(int(factors[k].max()) + 1 for k in others)
            kinds = {
                _kind(rows, [_same(factors[k]) for k in kept], known)
                for rows in _components([factors[k] for k in kept], known)
            }
            # Nanoseconds measured: a call, a factorisation, moving and multiplying.
            width = 1 + unknowns
            blocks = sum(
                500 + 0.25 * b**3 + 3 * b**2 + (2 * b * width if b > width else b**2 * width**2 / 8)
                for b, _ in kinds
            )
            total = blocks + 800 + 0.2 * unknowns**3 + 10 * unknowns**2
            if total < cost:
                best, cost = kept, total
    return best


def _kind(rows: IntArray, same: Sequence[FloatArray], known: FloatArray) -> tuple[int, bytes]:
    """Return the size of a block and a key that is equal for blocks which look alike."""
    at = np.ix_(rows, rows)
    return len(rows), b"".join(matrix[at].tobytes() for matrix in (*same, known))


def _group(same: FloatArray, known: FloatArray, design: FloatArray) -> tuple[_Blocks, ...]:
    """Gather the blocks by size and, within a size, by kind, summing their products."""
    ties = [matrix.argmax(axis=1).astype(np.intp) for matrix in same[1:]]
    kinds: dict[tuple[int, bytes], list[IntArray]] = {}
    for rows in _components(ties, known):
        kinds.setdefault(_kind(rows, list(same), known), []).append(rows)
    gathered = []
    for size in sorted({size for size, _ in kinds}):
        alike = [members for (b, _), members in kinds.items() if b == size]
        firsts = [members[0] for members in alike]
        kernels = np.stack([np.stack([m[np.ix_(r, r)] for r in firsts]) for m in same])
        measured = np.stack([known[np.ix_(r, r)] for r in firsts])
        products = np.stack(
            [
                sum(np.einsum("ip,jq->ijpq", design[r], design[r]) for r in members)
                for members in alike
            ]
        )
        counts = np.array([len(members) for members in alike], dtype=np.float64)
        width = design.shape[1]
        flat = products.reshape(len(alike), size**2, width**2)
        rows = np.array([r for members in alike for r in members], dtype=np.intp)
        kind = np.repeat(np.arange(len(alike)), [len(members) for members in alike])
        single = bool(counts.max() == 1 < width < size)
        gathered.append(
            _Blocks(
                kernels, measured, flat, counts, kind.astype(np.intp), rows, design[rows], single
            )
        )
    return tuple(gathered)


def evaluate(
    system: ComparisonSystem, piece_sd: FloatArray, factor_sds: FloatArray
) -> ConditionalPosteriors:
    """Return the answer at G sets of spreads.

    Args:
        system: the reduced data.
        piece_sd: piece-to-piece standard deviations (G,), above 0.
        factor_sds: those of the K factors (G, K), 0 or above.

    """
    parts = [
        _solve(system, piece_sd[rows], factor_sds[rows]) for rows in _chunks(system, len(piece_sd))
    ]
    return ConditionalPosteriors(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def evaluate_odd(
    system: ComparisonSystem,
    piece_sd: FloatArray,
    factor_sds: FloatArray,
    *,
    odd_sd: float,
    odds: float,
) -> OddAnswers:
    """Return the answer at G sets of spreads when at most one piece is odd.

    Args:
        system, piece_sd, factor_sds: as for `evaluate`.
        odd_sd: of the further error that an odd piece has.
        odds: before the data, of one given piece being the odd one against none.

    """
    parts = [
        _solve_odd(system, piece_sd[rows], factor_sds[rows], odd_sd**2)
        for rows in _chunks(system, len(piece_sd))
    ]
    likelihood, means, covariances, log_odd, shifts, stretches = (
        np.concatenate(column) for column in zip(*parts, strict=True)
    )
    log_odd += np.log(odds)
    top = np.maximum(log_odd.max(axis=1), 0.0)
    raw = np.exp(np.column_stack([-top, log_odd - top[:, None]]))
    total = raw.sum(axis=1)
    return OddAnswers(
        plain=ConditionalPosteriors(likelihood, means, covariances),
        shares=raw / total[:, None],
        log_likelihood=likelihood + top + np.log(total) - np.log1p(system.n * odds),
        shifts=shifts,
        stretches=stretches,
    )


def variance_parts(
    system: ComparisonSystem, piece_sd: FloatArray, factor_sds: FloatArray, contrast: FloatArray
) -> FloatArray:
    """Split the conditional variance of a contrast of arm levels by where it comes from.

    The conditional answer is linear in the data, so its variance is the sum of what piece error,
    each factor, measurement error and the prior contribute.

    Args:
        system, piece_sd, factor_sds: as for `evaluate`.
        contrast: (J,), +1 for one arm and -1 for another.

    Returns:
        (G, 1 + K + 2): piece, the factors in order, measurement, prior.

    """
    parts = [
        _split(system, piece_sd[rows], factor_sds[rows], contrast)
        for rows in _chunks(system, len(piece_sd))
    ]
    return np.concatenate(parts)


def _chunks(system: ComparisonSystem, nodes: int) -> Iterator[slice]:
    """Cut the nodes into parts that are quick to work on."""
    thin = 1 + len(system.within)
    each = max(
        blocks.known.size * (thin if blocks.single else blocks.products.shape[-1])
        for blocks in system.blocks
    )
    size = max(1, _CHUNK // each)
    return (slice(start, start + size) for start in range(0, nodes, size))


def _block_covariances(
    system: ComparisonSystem, piece_sd: FloatArray, factor_sds: FloatArray
) -> list[FloatArray]:
    """Return for each size of block the covariance (G, nb, b, b) of its pieces."""
    variances = np.column_stack([piece_sd, factor_sds[:, list(system.within)]]) ** 2
    # A piece spread vanishing beside the others would leave a covariance singular to rounding.
    known = max(float(blocks.known.max()) for blocks in system.blocks)
    variances[:, 0] = np.maximum(variances[:, 0], _FLOOR * (variances.sum(axis=1) + known))
    return [
        np.tensordot(variances, blocks.kernels, axes=1) + blocks.known for blocks in system.blocks
    ]


def _inverse(matrices: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.inv(matrices), dtype=np.float64)


def _contract(matrices: FloatArray, blocks: _Blocks) -> FloatArray:
    """Return sum over blocks of design' M design, (G, p, p), for block matrices (G, nb, b, b)."""
    nodes, width = len(matrices), round(blocks.products.shape[-1] ** 0.5)
    flat = matrices.reshape(nodes, -1) @ blocks.products.reshape(-1, width**2)
    return flat.reshape(nodes, width, width)


def _weighted(covariance: FloatArray, blocks: _Blocks) -> FloatArray:
    """Return sum over blocks of design' covariance^-1 design, (G, p, p)."""
    if not blocks.single:
        return _contract(_inverse(covariance), blocks)
    nodes = (len(covariance), *blocks.design.shape)
    solved = np.linalg.solve(covariance, np.broadcast_to(blocks.design, nodes))
    return np.asarray((blocks.design.swapaxes(1, 2) @ solved).sum(axis=1), dtype=np.float64)


def _scales(system: ComparisonSystem, factor_sds: FloatArray) -> FloatArray:
    """Return (G, J + q) prior sds of the unknowns; the arms' stand in `root` already."""
    arms = np.ones((len(factor_sds), len(system.root)))
    return np.hstack([arms, factor_sds[:, system.columns]])


def _solve(
    system: ComparisonSystem, piece_sd: FloatArray, factor_sds: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return log likelihood, arm means and their covariance for one part of the nodes."""
    arms = len(system.root)
    log_det, products = np.zeros(len(piece_sd)), np.zeros(())
    covariances = _block_covariances(system, piece_sd, factor_sds)
    for blocks, covariance in zip(system.blocks, covariances, strict=True):
        diagonal = np.diagonal(np.linalg.cholesky(covariance), axis1=-2, axis2=-1)
        log_det += 2.0 * np.log(diagonal).sum(axis=-1) @ blocks.counts
        products = products + _weighted(covariance, blocks)
    scale = _scales(system, factor_sds)
    # With every unknown scaled by its prior sd, its prior precision is 1.
    precision = scale[:, :, None] * products[:, 1:, 1:] * scale[:, None, :] + np.eye(scale.shape[1])
    pull = scale * products[:, 1:, 0]
    diagonal = np.diagonal(np.linalg.cholesky(precision), axis1=-2, axis2=-1)
    log_det += 2.0 * np.log(diagonal).sum(axis=-1)
    picked = np.broadcast_to(np.eye(scale.shape[1])[:, :arms], (*scale.shape, arms))
    solved = np.linalg.solve(precision, np.concatenate([pull[:, :, None], picked], axis=2))
    fit = np.einsum("gi,gi->g", pull, solved[:, :, 0])
    log_likelihood = -0.5 * (system.n * np.log(2.0 * np.pi) + log_det + products[:, 0, 0] - fit)
    means = system.level + solved[:, :arms, 0] @ system.root.T
    covariance = system.root @ solved[:, :arms, 1:] @ system.root.T
    return log_likelihood, means, covariance


def _solve_odd(
    system: ComparisonSystem, piece_sd: FloatArray, factor_sds: FloatArray, odd_variance: float
) -> tuple[FloatArray, ...]:
    """Return likelihood, means and covariance for one part of the nodes, and of each piece being
    odd how much likelier the data are then (log), and what it does to means and covariance.
    """
    arms, nodes = len(system.root), len(piece_sd)
    width = system.blocks[0].design.shape[2]
    log_det = np.zeros(nodes)
    products = np.zeros((nodes, width, width))
    pulled = np.empty((nodes, system.n, width))
    diagonal = np.empty((nodes, system.n))
    covariances = _block_covariances(system, piece_sd, factor_sds)
    for blocks, covariance in zip(system.blocks, covariances, strict=True):
        root = np.diagonal(np.linalg.cholesky(covariance), axis1=-2, axis2=-1)
        log_det += 2.0 * np.log(root).sum(axis=-1) @ blocks.counts
        inverse = _inverse(covariance)
        own = inverse[:, blocks.kind] @ blocks.design
        at = blocks.rows.ravel()
        pulled[:, at] = own.reshape(nodes, -1, width)
        diagonal[:, at] = np.diagonal(inverse, axis1=-2, axis2=-1)[:, blocks.kind].reshape(
            nodes, -1
        )
        flat = blocks.design.reshape(-1, width)
        products += flat.T @ own.reshape(nodes, -1, width)
    scale = _scales(system, factor_sds)
    precision = scale[:, :, None] * products[:, 1:, 1:] * scale[:, None, :] + np.eye(scale.shape[1])
    pull = scale * products[:, 1:, 0]
    root = np.diagonal(np.linalg.cholesky(precision), axis1=-2, axis2=-1)
    log_det += 2.0 * np.log(root).sum(axis=-1)
    inverse = _inverse(precision)
    found = np.einsum("gij,gj->gi", inverse, pull)
    fit = np.einsum("gi,gi->g", pull, found)
    likelihood = -0.5 * (system.n * np.log(2.0 * np.pi) + log_det + products[:, 0, 0] - fit)
    means = system.level + found[:, :arms] @ system.root.T
    covariance = system.root @ inverse[:, :arms, :arms] @ system.root.T
    tied = pulled[:, :, 1:] * scale[:, None, :]
    moved = tied @ inverse
    left = pulled[:, :, 0] - np.einsum("gnp,gp->gn", tied, found)
    own_precision = diagonal - np.einsum("gnp,gnp->gn", moved, tied)
    grown = 1.0 + odd_variance * np.maximum(own_precision, 0.0)
    gain = odd_variance / grown
    reach = moved[:, :, :arms] @ system.root.T
    log_odd = 0.5 * (gain * left**2 - np.log(grown))
    shifts = -reach * (gain * left)[:, :, None]
    return likelihood, means, covariance, log_odd, shifts, reach * np.sqrt(gain)[:, :, None]


def _split(
    system: ComparisonSystem, piece_sd: FloatArray, factor_sds: FloatArray, contrast: FloatArray
) -> FloatArray:
    """Return the parts of the conditional variance for one part of the nodes."""
    arms = len(system.root)
    products, sources = np.zeros(()), np.zeros(())
    covariances = _block_covariances(system, piece_sd, factor_sds)
    for blocks, covariance in zip(system.blocks, covariances, strict=True):
        inverse = _inverse(covariance)
        products = products + _contract(inverse, blocks)
        kernels = (*blocks.kernels, blocks.known)
        sources = sources + np.stack([_contract(inverse @ k @ inverse, blocks) for k in kernels])
    scale = _scales(system, factor_sds)
    precision = scale[:, :, None] * products[:, 1:, 1:] * scale[:, None, :] + np.eye(scale.shape[1])
    target = np.zeros((*scale.shape, 1))
    target[:, :arms, 0] = contrast @ system.root
    weight = np.linalg.solve(precision, target)[:, :, 0]
    spread = np.einsum("gi,kgij,gj->kg", weight * scale, sources[:, :, 1:, 1:], weight * scale)
    parts = np.zeros((len(piece_sd), 1 + factor_sds.shape[1] + 2))
    parts[:, 0] = spread[0] * piece_sd**2
    for place, k in enumerate(system.within):
        parts[:, 1 + k] = spread[1 + place] * factor_sds[:, k] ** 2
    for k in system.across:
        parts[:, 1 + k] = np.sum(weight[:, arms:][:, system.columns == k] ** 2, axis=1)
    parts[:, -2] = spread[-1]
    parts[:, -1] = np.sum(weight[:, :arms] ** 2, axis=1)
    return parts
