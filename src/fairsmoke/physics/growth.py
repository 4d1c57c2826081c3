"""Growth of bacteria while meat warms slowly, is held warm, or cools."""

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from fairsmoke.physics.history import refined
from fairsmoke.physics.ranges import FloatArray, Number, PhysicsRangeError, Range
from fairsmoke.physics.sources import Citation, Seen

LN_10 = float(np.log(10.0))
WARMTH_RANGE = Range("temperature of growth", "°C", -40.0, 150.0, "no growth outside the limits")
_STEP_S = 30.0
_PER_HOUR = 1.0 / 3600.0


class GrowthModel(NamedTuple):
    """A published growth-rate model.

    form "square root": [b(T − T_min)]²·{1 − exp[c(T − T_max)]} with first = b, second = c.
    form "cardinal": Rosso's, with first = the best rate, second = its temperature in °C.
    `unit`: "log10/h" or "ln/h" where known; "" where the source does not say, and then no growth
    is computed. `q0` is the readiness of the cells at the start (Baranyi), None where none is
    given: growth then starts at once.
    """

    key: str
    organism: str
    matrix: str
    form: Literal["square root", "cardinal"]
    first: float
    second: float
    min_c: float
    max_c: float
    unit: Literal["log10/h", "ln/h", ""]
    q0: float | None
    source: Citation


_JUNEJA = "Juneja, Marks, Huang & Thippareddi 2011, Food Microbiol. 28:791–795, database copy"
_UNITS = "unit log10/h settled by the paper's cooling examples, which it then reproduces"
_BRAISED = "Food Control, braised beef and roast chicken, abstract"

GROWTH_MODELS: dict[str, GrowthModel] = {
    m.key: m
    for m in (
        GrowthModel(
            "perfringens beef",
            "Clostridium perfringens",
            "cooked uncured beef",
            "square root",
            0.050,
            0.238,
            10.15,
            53.0,
            "log10/h",
            0.007,
            Citation(_JUNEJA, Seen.READ, f"{_UNITS}; q0 printed 0.0699, taken as 0.007"),
        ),
        GrowthModel(
            "perfringens chicken",
            "Clostridium perfringens",
            "cooked uncured chicken",
            "square root",
            0.048,
            0.208,
            9.74,
            52.1,
            "log10/h",
            0.0105,
            Citation(_JUNEJA, Seen.READ, _UNITS),
        ),
        GrowthModel(
            "perfringens pork",
            "Clostridium perfringens",
            "cooked uncured pork",
            "square root",
            0.047,
            0.252,
            10.69,
            52.8,
            "log10/h",
            0.0137,
            Citation(_JUNEJA, Seen.READ, _UNITS),
        ),
        GrowthModel(
            "perfringens braised beef",
            "Clostridium perfringens",
            "braised beef",
            "cardinal",
            5.64,
            43.5,
            10.3,
            53.4,
            "ln/h",
            None,
            Citation(_BRAISED, Seen.READ),
        ),
        GrowthModel(
            "perfringens roast chicken",
            "Clostridium perfringens",
            "roast chicken",
            "cardinal",
            6.06,
            46.4,
            8.8,
            51.5,
            "ln/h",
            None,
            Citation(_BRAISED, Seen.READ),
        ),
        GrowthModel(
            "b. cereus rice",
            "Bacillus cereus",
            "cooked rice",
            "cardinal",
            2.21,
            37.6,
            8.23,
            46.8,
            "",
            None,
            Citation("Hwang & Huang 2019, database copy", Seen.READ, "unit not stated"),
        ),
        GrowthModel(
            "salmonella raw beef",
            "Salmonella",
            "raw ground beef",
            "square root",
            7.18e-4**0.5,
            0.464,
            0.93,
            46.96,
            "",
            None,
            Citation("Juneja et al. 2009, database copy", Seen.READ, "unit not stated"),
        ),
    )
}

# Temperatures (°C) between which each grows at all, in food that suits it.
GROWTH_LIMITS_SOURCE = Citation(
    "FDA Bad Bug Book, factors table, January 1992", Seen.READ, "other tables differ by 1–4 K"
)
GROWTH_LIMITS_C: dict[str, tuple[float, float]] = {
    "Clostridium perfringens": (10.0, 52.0),
    "Bacillus cereus": (10.0, 49.0),
    "Salmonella": (6.5, 47.0),
    "Staphylococcus aureus": (7.0, 45.0),
    "Listeria monocytogenes": (0.0, 45.0),
    "Escherichia coli": (2.5, 45.0),
    "Clostridium botulinum A, B": (10.0, 50.0),
}


def bare_square_root_rate(temp_c: Number, b: float, c: float, min_c: float, max_c: float) -> Number:
    """Return Ratkowsky's rate without checking the range; the caller zeroes it outside."""
    falling: Number = np.expm1(c * (temp_c - max_c))
    return -(b * b) * (temp_c - min_c) * (temp_c - min_c) * falling


def bare_cardinal_rate(
    temp_c: Number, best_rate: float, best_c: float, min_c: float, max_c: float
) -> Number:
    """Return Rosso's rate without checking the range; the caller zeroes it outside."""
    above = temp_c - min_c
    top = (temp_c - max_c) * above * above
    near = (best_c - min_c) * (temp_c - best_c)
    far = (best_c - max_c) * (best_c + min_c - 2.0 * temp_c)
    return best_rate * top / ((best_c - min_c) * (near - far))


def growth_rate_log10_h(temp_c: ArrayLike, model: GrowthModel) -> FloatArray:
    """Return the growth rate in tenfold steps per hour; 0 outside the model's limits.

    Source: the model's own. Raises PhysicsRangeError where the model's unit is not known, and
    for temperatures that are not numbers.
    """
    if not model.unit:
        raise PhysicsRangeError(
            f"growth of {model.organism} in {model.matrix}: the source does not say whether its "
            "rate is per hour in log10 or ln. Use another model."
        )
    temp = WARMTH_RANGE.check(temp_c)
    formula = bare_square_root_rate if model.form == "square root" else bare_cardinal_rate
    grows = (temp > model.min_c) & (temp < model.max_c)
    inside = np.where(grows, temp, (model.min_c + model.max_c) / 2)
    rate: FloatArray = formula(inside, model.first, model.second, model.min_c, model.max_c)
    return np.where(grows, rate, 0.0) / (1.0 if model.unit == "log10/h" else LN_10)


def growth_log10(
    time_s: ArrayLike, temp_c: ArrayLike, model: GrowthModel, lag: bool = True
) -> float:
    """Return the growth over a record of temperatures, in tenfold steps, without an upper end.

    Temperatures straight between readings. With `lag` the cells first get ready as Baranyi has
    it, dq/dt = μ·q and dy/dt = μ·q/(1 + q) from q0, which sums to ln[(1 + q)/(1 + q0)]; without
    (the careful choice after a slow come-up, when spores have woken already) growth starts at
    once. Dying above the upper limit is left out. The models miss by about ±0.5.
    Source: the model's own. Raises PhysicsRangeError for readings that do not pair up, for a
    model without a known unit, and for lag with a model that gives no q0.
    """
    if lag and model.q0 is None:
        raise PhysicsRangeError(
            f"growth of {model.organism} in {model.matrix}: its source gives no lag. "
            "Ask for growth without lag."
        )
    time, temp = refined(time_s, temp_c, _STEP_S)
    rate = growth_rate_log10_h(temp, model) * (LN_10 * _PER_HOUR)
    turned = float(np.trapezoid(rate, time))
    if not lag or model.q0 is None:
        return turned / LN_10
    ready = np.logaddexp(0.0, turned + np.log(model.q0)) - np.log1p(model.q0)
    return float(ready) / LN_10


def meat_salt_ph_rate_ln_h(temp_c: ArrayLike, salt_percent: ArrayLike, ph: ArrayLike) -> FloatArray:
    """Return C. perfringens' rate in bulk meat by salt (0.5–4 %) and pH (5–6.25), 15–52 °C, ln/h.

    7.45(T − 12.20)²{1 − exp[0.095(T − 54.47)]}(a − 0.9755)(1.0245 − a)(pH − 4.76), zero where a
    factor is negative, with water activity a = 1 − s(5.2471 + 0.12206 s)/1000 of s % salt.
    Source: Le Marc et al. 2008, Int. J. Food Microbiol. 128:41–50 (database copy, read; the unit
    from its size). Raises PhysicsRangeError outside.
    """
    temp = Range("temperature of growth", "°C", 15.0, 52.0, "Le Marc et al. 2008").check(temp_c)
    salt = Range("salt", "%", 0.5, 4.0, "Le Marc et al. 2008").check(salt_percent)
    acid = Range("pH", "", 5.0, 6.25, "Le Marc et al. 2008").check(ph)
    activity = 1.0 - salt * (5.2471 + 0.12206 * salt) / 1000.0
    warmth = (temp - 12.20) ** 2 * -np.expm1(0.095 * (temp - 54.47))
    water = np.maximum(activity - 0.9755, 0.0) * (1.0245 - activity)
    return np.asarray(7.45 * warmth * water * (acid - 4.76))
