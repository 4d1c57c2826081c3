"""Growth of C. perfringens over published cooling curves.

Juneja, Marks, Huang & Thippareddi 2011: parameters read in a database copy; 54 → 27 °C in 1.5 h,
then 27 → 4 °C in 5 h gives 1.29 (beef), 1.07 (chicken), 0.95 (pork) log, from memory of the
abstract. A simulation in the shared references (safety.md 4b) found 1.27, 1.07, 1.04.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from fairsmoke.physics import growth
from fairsmoke.physics.growth import GROWTH_MODELS, LN_10

TIMES_S, TEMPS_C = [0.0, 5400.0, 23_400.0], [54.0, 27.0, 4.0]
CASES = {"beef": (1.29, 1.27), "chicken": (1.07, 1.07), "pork": (0.95, 1.04)}


@pytest.mark.parametrize("meat", CASES)
def test_growth_over_the_guideline_curve(meat: str) -> None:
    published, simulated = CASES[meat]
    found = growth.growth_log10(TIMES_S, TEMPS_C, GROWTH_MODELS[f"perfringens {meat}"])
    assert found == pytest.approx(published, abs=0.1)
    assert found == pytest.approx(simulated, abs=0.02)


@pytest.mark.parametrize("meat", CASES)
def test_closed_form_of_baranyi_against_the_equations_themselves(meat: str) -> None:
    model = GROWTH_MODELS[f"perfringens {meat}"]
    assert model.q0 is not None

    def slopes(t: float, state: np.ndarray) -> list[float]:
        temp = np.interp(t, TIMES_S, TEMPS_C)
        rate = float(growth.growth_rate_log10_h(temp, model)) * LN_10 / 3600
        return [rate * state[0], rate * state[0] / (1 + state[0])]

    solved = solve_ivp(slopes, (0, TIMES_S[-1]), [model.q0, 0.0], rtol=1e-8, max_step=60.0)
    found = growth.growth_log10(TIMES_S, TEMPS_C, model)
    assert found == pytest.approx(solved.y[1, -1] / LN_10, abs=2e-4)


@pytest.mark.parametrize(
    ("meat", "best_c", "best_rate"),
    [("beef", 46.0, 2.61), ("chicken", 44.7, 2.21), ("pork", 46.1, 2.26)],
)
def test_best_rates_as_the_database_gives_them(meat: str, best_c: float, best_rate: float) -> None:
    temp = np.linspace(10.0, 53.0, 4301)
    rate = growth.growth_rate_log10_h(temp, GROWTH_MODELS[f"perfringens {meat}"])
    assert rate.max() == pytest.approx(best_rate, abs=0.005)
    assert temp[rate.argmax()] == pytest.approx(best_c, abs=0.05)


def test_cardinal_models_have_their_printed_best() -> None:
    # Abstract, read: μ_opt 5.64 and 6.06 in ln/h at 43.5 and 46.4 °C, limits 10.3–53.4, 8.8–51.5.
    for key, best_c, best in (("braised beef", 43.5, 5.64), ("roast chicken", 46.4, 6.06)):
        model = GROWTH_MODELS[f"perfringens {key}"]
        assert growth.growth_rate_log10_h(best_c, model) * LN_10 == pytest.approx(best)
        near = growth.growth_rate_log10_h([best_c - 0.5, best_c + 0.5], model) * LN_10
        assert (near < best).all()
        ends = growth.growth_rate_log10_h([model.min_c, model.max_c], model)
        assert (ends == 0).all()


def test_bulk_meat_model_has_the_size_of_a_rate_per_hour() -> None:
    # Derived in safety.md: at most 4.2 /h at pH 6.25 and 0.5 % salt.
    temp = np.linspace(15.0, 52.0, 371)
    assert growth.meat_salt_ph_rate_ln_h(temp, 0.5, 6.25).max() == pytest.approx(4.2, abs=0.05)


def test_none_in_three_weeks_at_12_c_is_what_the_models_are_careful_about() -> None:
    # ARS 130101 (read): no growth from spores in 3 weeks at 12 °C. The models still allow some:
    # their careful side, which this states so that nobody takes the low end for a measurement.
    rate = growth.growth_rate_log10_h(12.0, GROWTH_MODELS["perfringens beef"])
    assert 0 < rate < 0.01
