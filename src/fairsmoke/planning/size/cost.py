"""What a plan costs, from the price of a piece, of a cook and of a taster's sitting."""

import math
from dataclasses import dataclass

from fairsmoke.planning.errors import PlanError


@dataclass(frozen=True, slots=True)
class Prices:
    """Prices in one currency; None for what nobody priced, which then counts nothing.

    Attributes:
        piece: of one piece of meat. cook: of one firing (fuel, a night). sitting: of one taster in
            one cook. currency: as it is written behind a sum.

    Raises:
        PlanError: a price that is negative or no number.

    """

    piece: float | None = None
    cook: float | None = None
    sitting: float | None = None
    currency: str = ""

    def __post_init__(self) -> None:
        for name in ("piece", "cook", "sitting"):
            price = getattr(self, name)
            if price is not None and not (math.isfinite(price) and price >= 0.0):
                raise PlanError(f"the price of a {name} is 0 or more, not {price}")

    @property
    def unpriced(self) -> tuple[str, ...]:
        """What counts nothing because it has no price."""
        return tuple(n for n in ("piece", "cook", "sitting") if getattr(self, n) is None)

    def of(self, pieces: int, cooks: int, sittings: int = 0) -> float | None:
        """Return the cost of so many, None when nothing at all is priced.

        >>> Prices(piece=60.0, cook=25.0).of(4, 2)
        290.0
        """
        if len(self.unpriced) == 3:
            return None
        return (
            pieces * (self.piece or 0.0)
            + cooks * (self.cook or 0.0)
            + sittings * (self.sitting or 0.0)
        )
