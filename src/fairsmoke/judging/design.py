"""Who got what: the layout of a comparison, and what such a layout cannot tell apart."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.priors import FloatArray

IntArray = npt.NDArray[np.intp]

_RESERVED = ("piece", "arm", "level", "measurement", "prior")


@dataclass(frozen=True, slots=True, eq=False)
class ComparisonLayout:
    """Which arm and which cook, animal, parent piece and position each of n pieces had.

    Attributes:
        arm: whole numbers (n,), the place of each piece's arm in `arm_names`.
        arm_names: two or more different names.
        factors: grouping factors by name, each whole numbers (n,); equal numbers share a level.
            Pieces that share nothing get numbers of their own.

    Raises:
        ComparisonError: lengths differ, labels are not whole numbers, an arm has no name, or a
            name is used twice or reserved.

    """

    arm: IntArray
    arm_names: tuple[str, ...]
    factors: Mapping[str, IntArray] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "arm", _labels("arm", self.arm, None))
        object.__setattr__(self, "arm_names", tuple(self.arm_names))
        checked = {k: _labels(k, v, len(self.arm)) for k, v in self.factors.items()}
        object.__setattr__(self, "factors", checked)
        if len(self.arm_names) < 2 or len(set(self.arm_names)) < len(self.arm_names):
            raise ComparisonError(
                f"A comparison needs two or more arms with different names, not {self.arm_names}."
            )
        if len(self.arm) and not 0 <= self.arm.min() <= self.arm.max() < len(self.arm_names):
            raise ComparisonError(
                f"The arm numbers run from {self.arm.min()} to {self.arm.max()}, but there are "
                f"{len(self.arm_names)} names: number the arms from 0 in the order of arm_names."
            )
        for name in set(checked) & set(_RESERVED):
            raise ComparisonError(f"A grouping factor cannot be called '{name}'; rename it.")

    def arm_index(self, name: str) -> int:
        """Return the number of an arm.

        Raises:
            ComparisonError: no arm has this name.

        """
        if name not in self.arm_names:
            raise ComparisonError(f"No arm '{name}' here; the arms are {list(self.arm_names)}.")
        return self.arm_names.index(name)


def _labels(name: str, values: npt.ArrayLike, length: int | None) -> IntArray:
    """Return labels as a one-dimensional array of whole numbers, or say which factor is wrong."""
    found = np.asarray(values)
    if found.ndim != 1 or (found.size and not np.issubdtype(found.dtype, np.integer)):
        raise ComparisonError(f"The labels of '{name}' must be a plain list of whole numbers.")
    if length is not None and len(found) != length:
        raise ComparisonError(
            f"'{name}' has {len(found)} labels for {length} pieces; give each one."
        )
    return found.astype(np.intp)


@dataclass(frozen=True, slots=True)
class NotSeparable:
    """A spread that the layout cannot tell from something else.

    Attributes:
        factor: the grouping factor, or "piece".
        merged_with: "level" (one level only), "arm" (each arm had a level of its own), "piece"
            (no two pieces share a level), the name of another factor, or "rest" (a combination of
            the other factors).
        sentence: the same in plain words, with what it does to the answer.

    """

    factor: str
    merged_with: str
    sentence: str


def not_separable(arm: IntArray, factors: Mapping[str, IntArray]) -> tuple[NotSeparable, ...]:
    """Return which spreads the layout cannot tell from something else.

    A spread is told by how the pieces of its levels agree once the arms' means are taken out; if
    what is left of its same-label matrix is nothing, or is a sum of those of the other spreads,
    no data of this layout can tell it.

    Args:
        arm: (n,) numbers of the arms.
        factors: labels (n,) by factor.

    """
    ones = (arm[:, None] == np.arange(arm.max() + 1)).astype(np.float64)
    rest = np.eye(len(arm)) - ones @ np.linalg.pinv(ones)
    kernels = {"piece": np.eye(len(arm))}
    kernels |= {k: (v[:, None] == v[None, :]).astype(np.float64) for k, v in factors.items()}
    seen = {name: (rest @ kernel @ rest).ravel() for name, kernel in kernels.items()}
    found = []
    for name in kernels:
        merged = _merged_with(name, arm, factors, seen)
        if merged is not None:
            found.append(NotSeparable(name, merged, _sentence(name, merged)))
    return tuple(found)


def _merged_with(
    name: str, arm: IntArray, factors: Mapping[str, IntArray], seen: Mapping[str, FloatArray]
) -> str | None:
    own = seen[name]
    labels = np.arange(len(arm)) if name == "piece" else factors[name]
    if labels.max() == labels.min():
        return "level"
    if np.abs(own).max() < 1e-9:
        return "arm"
    for other, kernel in seen.items():
        if other != name and np.allclose(own, kernel, atol=1e-9):
            return other
    others = np.column_stack([v for k, v in seen.items() if k != name] or [np.zeros_like(own)])
    left = own - others @ np.linalg.lstsq(others, own)[0]
    return "rest" if np.abs(left).max() < 1e-9 else None


def _sentence(name: str, merged: str) -> str:
    """Return in plain words what the layout cannot tell apart, and what follows."""
    rests = "Only the prior says how large it is; the answer is widened by it."
    if merged == "level":
        return f"There was one {name} only: its effect is part of the general level."
    if merged == "arm" and name == "piece":
        return (
            f"No arm had two pieces: the data do not show how pieces treated alike differ. {rests}"
        )
    if merged == "arm":
        return f"Each arm had a {name} of its own: {name} and arm cannot be told apart. {rests}"
    if merged == "rest":
        return (
            f"The spread of {name} cannot be told from those of the other factors together; "
            "how it is shared out among them rests on the priors."
        )
    return (
        f"The spreads of {name} and {merged} cannot be told apart in this layout; the data show "
        "them together, and the priors share it out."
    )
