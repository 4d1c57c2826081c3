"""How much of a surface has dried to a crust."""

import numpy as np

from fairsmoke.cooking.cells import CRUST_KG_KG
from fairsmoke.physics.ranges import FloatArray


def dried_kg_m2(moisture_kg_kg: FloatArray, solids_kg_m2: FloatArray) -> FloatArray:
    """Return the dried solids at a surface, kg/m².

    Both arrays are (…, cells) with the surface first: water per fat-free dry matter, and dry matter
    of each cell per area. The crust ends where moisture, straight between the middles of cells,
    passes `CRUST_KG_KG`; above the first middle it goes on as between the first two. So it grows
    without steps as a cell dries. A piece that is dry through and through is all crust.
    """
    moisture, solids = np.broadcast_arrays(moisture_kg_kg, solids_kg_m2)
    middle = np.cumsum(solids, axis=-1) - 0.5 * solids
    wet = moisture >= CRUST_KG_KG
    inner = np.maximum(np.argmax(wet, axis=-1), 1)[..., None]

    def of(values: FloatArray, cell: np.ndarray) -> FloatArray:
        return np.asarray(np.take_along_axis(values, cell, axis=-1)[..., 0])

    outside, inside = of(moisture, inner - 1), of(moisture, inner)
    start, end = of(middle, inner - 1), of(middle, inner)
    # Wetter outside than inside is no crust, whatever the line through both would say.
    steep = np.maximum(inside - outside, 1e-12)
    ends = start + (CRUST_KG_KG - outside) / steep * (end - start)
    total = np.sum(solids, axis=-1)
    return np.where(wet.any(axis=-1), np.clip(ends, 0.0, total), total)


__all__ = ["dried_kg_m2"]
