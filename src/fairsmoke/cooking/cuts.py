"""The cuts that the model knows: what they are made of and how they are shaped."""

from dataclasses import dataclass
from typing import Literal

from fairsmoke.physics.fat import Species

LEAN_FAT = 0.06
"""Fat of lean from which all visible fat was cut, kg/kg: 0.038 to 0.074 in raw brisket, chuck and
pork shoulder (USDA Standard Reference 23596, 13595, 23603, 13023, 10072, read)."""
# Fat in what was cut out: adipose tissue with some lean on it; assumed, near cap_flesh below.
_SEPARABLE_FAT = 0.75


@dataclass(frozen=True)
class Flesh:
    """Mass fractions of water, protein and fat (kg/kg); what is missing to 1 is made up in them.

    `seam` is the share of the fat that lies in seams between muscles and can be cut out with a
    knife; the rest is marbling. None: what is above LEAN_FAT of the lean, in tissue like a cap.
    """

    water: float
    protein: float
    fat: float
    seam: float | None = None

    def __post_init__(self) -> None:
        if self.seam is not None and not 0.0 <= self.seam <= 1.0:
            raise ValueError(f"share of seam fat is {self.seam:g}. Give 0 to 1 of the fat.")
        total = self.water + self.protein + self.fat
        if min(self.water, self.protein, self.fat) <= 0 or not 0.95 <= total <= 1.01:
            raise ValueError(
                f"water, protein and fat add up to {total:g} kg/kg. Give mass fractions above 0 "
                "that add up to 0.95 to 1.01; the rest is ash."
            )

    @property
    def seam_share(self) -> float:
        """Share of the fat that lies in seams, by what separable lean keeps (LEAN_FAT)."""
        if self.seam is not None:
            return self.seam
        separable = max(0.0, (self.fat - LEAN_FAT) / (_SEPARABLE_FAT - LEAN_FAT))
        return min(1.0, separable * _SEPARABLE_FAT / self.fat)

    def parts(self, ash_of_protein: float) -> tuple[float, float, float]:
        """Return solids, water and fat, which add up to 1."""
        solids = self.protein * (1.0 + ash_of_protein)
        total = solids + self.water + self.fat
        return solids / total, self.water / total, self.fat / total


@dataclass(frozen=True)
class Cut:
    """A cut: composition of its flesh and of its fat cap, usual cap, how it tapers, how its
    sides are (an endless slab or bar, a box with upright sides, or rounded), and sources.
    """

    name: str
    species: Species
    flesh: Flesh
    cap_m: float
    thin_share: float
    sides: Literal["slab", "bar", "box", "rounded"]
    source: str
    cap_flesh: Flesh = Flesh(0.15, 0.035, 0.80)


_SR = "USDA Standard Reference (read), no."
_SHAPE = "cap and taper: common practice, no source"

_LEAN = Flesh(0.7270, 0.2147, 0.0511)

CUTS: dict[str, Cut] = {
    cut.name: cut
    for cut in (
        Cut(
            "brisket",
            "beef",
            Flesh(0.6700, 0.2010, 0.1150, seam=0.40),
            0.006,
            0.45,
            "rounded",
            f"{_SR} 13023 (lean 7.4 % fat) and 13803, lean and seam fat without the cap; {_SHAPE}",
        ),
        Cut("brisket flat", "beef", _LEAN, 0.006, 0.6, "rounded", f"{_SR} 13595; {_SHAPE}"),
        Cut(
            "pork shoulder",
            "pork",
            Flesh(0.6918, 0.1742, 0.1236, seam=0.47),
            0.004,
            0.8,
            "rounded",
            f"{_SR} 10080, lean as 10072 (7.1 % fat); {_SHAPE}",
        ),
        Cut(
            "chuck roast",
            "beef",
            Flesh(0.6233, 0.1923, 0.1798, seam=0.81),
            0.0,
            0.85,
            "rounded",
            f"{_SR} 13809, lean as 23603 (4.2 % fat); {_SHAPE}",
        ),
        Cut(
            "short ribs",
            "beef",
            Flesh(0.5600, 0.1650, 0.2650),
            0.004,
            0.8,
            "rounded",
            f"{_SR} 13147 has 36 % fat with the cap, from memory less without; {_SHAPE}",
        ),
        Cut(
            "pork ribs",
            "pork",
            Flesh(0.6000, 0.1700, 0.2200),
            0.0,
            0.8,
            "rounded",
            f"from memory; {_SHAPE}",
        ),
        # No melting curve of turkey fat was found; 1.5 % of it as pork's matters little.
        Cut(
            "turkey breast",
            "pork",
            Flesh(0.7400, 0.2350, 0.0150),
            0.0,
            0.5,
            "rounded",
            f"from memory; {_SHAPE}",
        ),
        Cut("slab", "beef", _LEAN, 0.0, 1.0, "slab", f"{_SR} 13595"),
        Cut("cylinder", "beef", _LEAN, 0.0, 1.0, "bar", f"{_SR} 13595"),
        Cut("brick", "beef", _LEAN, 0.0, 1.0, "box", f"{_SR} 13595"),
    )
}
