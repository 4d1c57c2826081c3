"""NIST StRD: eleven one-way analyses of variance with certified values.

Files: the Statistical Reference Datasets of the National Institute of Standards and Technology,
read word for word from scipy's installed test data (scipy/stats/tests/data/nist_anova).
Their certified values are exact for the decimal data. SmLs04-06 and 07-09 carry 7 and 13 constant
leading digits: at 13 the decimal data themselves do not fit into a double (1e12 + 0.4 is stored
to 1e-4), which limits any double computation to about 2 to 4 digits. There the result is also
held against exact rational arithmetic on the doubles as stored.
"""

import math
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import scipy

from fairsmoke.judging.anova import OneWayAnova, one_way_anova

FOLDER = Path(scipy.__file__).parent / "stats" / "tests" / "data" / "nist_anova"

# Digits that must agree with the certified value, by set.
DIGITS = {
    "SiRstv": 13.0,
    "AtmWtAg": 10.0,
    "SmLs01": 15.0,
    "SmLs02": 15.0,
    "SmLs03": 15.0,
    "SmLs04": 10.0,
    "SmLs05": 9.8,
    "SmLs06": 9.8,
    "SmLs07": 3.9,
    "SmLs08": 3.8,
    "SmLs09": 3.8,
}


def read(name: str) -> tuple[np.ndarray, np.ndarray, dict[str, float]]:
    """Groups, values and certified values of one file."""
    lines = (FOLDER / f"{name}.dat").read_text().splitlines()
    between = next(line for line in lines[40:] if line.startswith("Between")).split()[-4:]
    within = next(line for line in lines[40:] if line.startswith("Within")).split()[-3:]
    r_squared = next(line for line in lines[40:] if "Certified R-Squared" in line).split()[-1]
    deviation = next(
        lines[i + 1] for i in range(40, 60) if "Certified Residual" in lines[i]
    ).split()[-1]
    certified = {
        "between_df": between[0],
        "between_ss": between[1],
        "between_ms": between[2],
        "f_ratio": between[3],
        "within_df": within[0],
        "within_ss": within[1],
        "within_ms": within[2],
        "r_squared": r_squared,
        "residual_sd": deviation,
    }
    data = np.array([line.split() for line in lines[60:] if line.strip()], dtype=float)
    return data[:, 0], data[:, 1], {key: float(value) for key, value in certified.items()}


def agreeing_digits(found: float, certified: float) -> float:
    return 16.0 if found == certified else -math.log10(abs(found - certified) / abs(certified))


def exact_f_ratio(groups: np.ndarray, values: np.ndarray) -> Fraction:
    """F in rational arithmetic on the doubles as they are stored."""
    exact = [Fraction(value) for value in values.tolist()]
    parts: dict[float, list[Fraction]] = {}
    for group, value in zip(groups.tolist(), exact, strict=True):
        parts.setdefault(group, []).append(value)
    grand = sum(exact, Fraction(0)) / len(exact)
    means = {g: sum(part, Fraction(0)) / len(part) for g, part in parts.items()}
    between = sum((len(p) * (means[g] - grand) ** 2 for g, p in parts.items()), Fraction(0))
    within = sum(((v - means[g]) ** 2 for g, p in parts.items() for v in p), Fraction(0))
    return (between / (len(parts) - 1)) / (within / (len(exact) - len(parts)))


@pytest.mark.parametrize("name", sorted(DIGITS))
def test_certified_values(name: str) -> None:
    groups, values, certified = read(name)
    result: OneWayAnova = one_way_anova(values, groups)
    assert result.between_df == certified["between_df"]
    assert result.within_df == certified["within_df"]
    for key in ("between_ss", "between_ms", "within_ss", "within_ms", "f_ratio", "r_squared"):
        assert agreeing_digits(getattr(result, key), certified[key]) >= DIGITS[name], key
    assert agreeing_digits(result.residual_sd, certified["residual_sd"]) >= DIGITS[name]


@pytest.mark.parametrize("name", ["AtmWtAg", "SmLs04", "SmLs06", "SmLs07", "SmLs08", "SmLs09"])
def test_every_digit_that_the_stored_data_carry(name: str) -> None:
    groups, values, _ = read(name)
    f_ratio = one_way_anova(values, groups).f_ratio
    assert f_ratio is not None
    assert agreeing_digits(f_ratio, float(exact_f_ratio(groups, values))) >= 13
