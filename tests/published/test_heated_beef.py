"""What heat did to beef in published experiments (abstracts read; shared physics.md 2, 6, 7, 8)."""

import numpy as np
import pytest
from scipy.optimize import least_squares

from fairsmoke.physics import fat, kinetics, surface, water
from fairsmoke.physics.ranges import PhysicsRangeError

TEN_K_MIN = 10.0 / 60.0


def test_actin_peak_in_a_scan_of_beef() -> None:
    # Findlay & Stanley 1984: 81.8 to 83.2 °C. The rate is from pork kinetics of another
    # laboratory (Kajitani et al. 2011), so this joins two sources. Scan at 10 K/min (memory).
    assert 81.8 <= kinetics.peak_of_scan_c(kinetics.ACTIN, TEN_K_MIN) <= 83.2


def test_collagen_peak_in_a_scan() -> None:
    # Instrument note HB1003 (10 K/min): sarcoplasmic proteins and collagen about 67 °C; fluid
    # release with collagen at 65–66 °C (Brunton 2006). The rate is from shear at 58 °C
    # (Machlik & Draudt 1963), the activation energy from scans of isolated collagen.
    assert kinetics.peak_of_scan_c(kinetics.COLLAGEN_OPENS, TEN_K_MIN) == pytest.approx(66, abs=1)


def test_myosin_peak_lies_where_its_rate_was_set() -> None:
    # Findlay & Stanley 1984: 57.8 °C fresh, 55.2 °C aged.
    assert 55.2 <= kinetics.peak_of_scan_c(kinetics.MYOSIN, TEN_K_MIN) <= 57.8


def test_activation_of_collagen_from_the_shift_of_its_peak() -> None:
    # "Hydrothermal shrinkage of bovine collagen": +4 K from 1 to 10 K/min, near 60 to 64 °C.
    found = kinetics.activation_from_peaks_j_mol(60.0, 1 / 60, 64.0, 10 / 60)
    assert found == pytest.approx(kinetics.COLLAGEN_OPENS.activation_j_mol, rel=0.01)
    # Weir 1949, tendon, from memory: 141 kcal/mol = 590 kJ/mol.
    assert found == pytest.approx(590e3, rel=0.12)


def test_half_of_the_shear_drop_in_11_min_at_58_c() -> None:
    # Machlik & Draudt 1963. The first class has it by choice; the trend of shear, in which later
    # classes and actin take part, within a few minutes.
    assert kinetics.half_life_s(58.0, kinetics.COLLAGEN_OPENS) == pytest.approx(660.0)
    time = np.arange(0.0, 3601.0, 30.0)
    native, dissolved = kinetics.collagen_after(time, 58.0)
    trend = kinetics.shear_trend(native, dissolved, kinetics.left_after(time, 58.0, kinetics.ACTIN))
    half = time[np.argmax(trend <= 0.5 * (trend[0] + trend.min()))]
    assert 7.0 <= half / 60.0 <= 13.0


def _roast(kelvin_per_min: float, end_c: float = 65.6) -> float:
    """Return the unaltered collagen of meat brought up at a steady rate (share of all)."""
    temp = np.arange(40.0, end_c, 0.01)
    rates = kinetics.rate_per_s(temp, kinetics.COLLAGEN_OPENS)
    exposure = np.sum(rates) * 0.01 / kelvin_per_min * 60.0
    return (1.0 - kinetics.SOLUBLE_RAW) * float(kinetics.collagen_native(exposure))


def test_half_of_the_collagen_is_unaltered_in_a_roast_of_65_c() -> None:
    # Powell et al. 2000: 55 % after roasting at 163 °C, 44 % after a slow three-stage program, core
    # 65.6 °C; the share of the last class was chosen for the first. Cores of 1 to 2.5 kg roasts
    # rise by about 0.3 to 0.6 K/min in such an oven and 0.1 K/min slowly (assumed).
    assert _roast(0.3) == pytest.approx(0.55, abs=0.05)
    assert _roast(0.6) == pytest.approx(0.55, abs=0.05)
    assert _roast(0.1) == pytest.approx(0.44, abs=0.05)


def test_collagen_of_eye_of_round_opens_step_by_step_from_50_to_70_c() -> None:
    # Powell et al. 2000 (Ringer method paper): what enzymes digest rises with the end point from
    # 50 over 60 to 70 °C and what is dissolved only a little. 1 K/min (assumed).
    altered = [1.0 - _roast(1.0, end) for end in (50.0, 60.0, 70.0)]
    assert altered[0] < altered[1] < altered[2]
    assert kinetics.collagen_after(600.0, 65.0)[1] < kinetics.SOLUBLE_RAW + 0.02


def test_collagen_of_old_animals_takes_a_day_or_two_at_60_c() -> None:
    # Bouton & Harris 1981: 12 to 17 years, 24 to 48 h at 60 °C; veal softens within hours at 55 to
    # 60 °C and not in 8 h at 50 °C. The last class stands for the first, the first for veal.
    _, ratios = kinetics.class_rates()
    at_60, at_55, at_50 = (
        float(kinetics.rate_per_s(t, kinetics.COLLAGEN_OPENS)) * 3600.0 for t in (60, 55, 50)
    )
    opened = [1.0 - np.exp(-ratios[-1] * at_60 * hours) for hours in (24.0, 48.0)]
    assert 0.3 < opened[0] < 0.5 < opened[1] < 0.8
    assert np.log(2.0) / at_55 < 3.0
    assert 1.0 - np.exp(-8.0 * at_50) < 0.3


def test_classes_shrink_about_where_strips_of_beef_do() -> None:
    # 30 sides of beef: 66.75 to 70.75 °C (shared stats.md; the rate of heating is not told, 1 to
    # 4 K/min assumed). A strip's shrinking is seen when a good part of it has opened.
    temp = np.arange(30.0, 90.0, 0.01)
    for rate in (1.0, 4.0):
        steps = kinetics.rate_per_s(temp, kinetics.COLLAGEN_OPENS) * 0.01 / rate * 60.0
        native = kinetics.collagen_native(np.cumsum(steps))
        assert 62.0 < temp[np.argmax(native < 0.7)] < 70.75
        assert 66.75 < temp[np.argmax(native < 0.3)] < 77.0


def test_shear_is_least_near_60_c_after_half_an_hour() -> None:
    # Machlik & Draudt 1963: least at 60–64 °C after 30–40 min.
    temp = np.arange(50.0, 80.0, 0.25)
    native, dissolved = kinetics.collagen_after(2100.0, temp)
    actin = kinetics.left_after(2100.0, temp, kinetics.ACTIN)
    trend = kinetics.shear_trend(native, dissolved, actin)
    assert 60.0 <= temp[trend.argmin()] <= 64.0
    # Christensen et al. 2000: softening between 50 and 60 °C, toughening between 60 and 80 °C.
    at = dict(zip(temp.tolist(), trend.tolist(), strict=True))
    assert at[50.0] > at[55.0] > at[58.5]
    assert at[60.0] < at[65.0] < at[70.0]


def test_shear_of_brisket_falls_to_65_c_and_rises_to_80_c() -> None:
    # Obuz et al. 2004: steaks of the deep pectoral in water of 93 °C, shear falls from 45 to 65 °C
    # and rises from 65 to 80 °C. A steady 2 K/min stands for such a steak's middle.
    trend = {}
    for end in (45.0, 65.0, 80.0):
        temp = np.arange(20.0, end, 0.02)
        actin = np.exp(-np.sum(kinetics.rate_per_s(temp, kinetics.ACTIN)) * 0.6)
        trend[end] = float(kinetics.shear_trend(_roast(2.0, end), kinetics.SOLUBLE_RAW, actin))
    assert trend[65.0] < 0.9 * trend[45.0]
    assert trend[80.0] > 1.1 * trend[65.0]


def test_dissolved_collagen_of_brisket_on_reaching_75_c() -> None:
    # Kerth et al.: flat 12.88 %, point 9.81 % at 75 °C without a hold; the rate was chosen for it.
    # Four hours from 60 to 75 °C stand for the last part of a cook.
    dissolved = kinetics.SOLUBLE_RAW
    for temp in np.arange(60.25, 75.0, 0.5):
        rate = float(kinetics.rate_per_s(temp, kinetics.COLLAGEN_DISSOLVES))
        dissolved += (1 - dissolved) * rate * 480.0
    assert 0.09 < dissolved < 0.14


def test_36_h_at_75_c_dissolves_more_than_2_h_at_100_c() -> None:
    # Rinaldi et al. 2014: softer after 36 h at 75 °C.
    slow, fast = (kinetics.collagen_after(h * 3600.0, t)[1] for h, t in ((36, 75), (2, 100)))
    assert slow > fast


def test_equal_tenderness_pairs_dissolve_alike() -> None:
    # Alahakoon 2018 and Karki 2022: 60 °C for 24–36 h; Kerth: 85–87 °C for 2–3 h.
    low = kinetics.collagen_after(30 * 3600.0, 60.0)[1]
    high = kinetics.collagen_after(2.5 * 3600.0, 86.0)[1]
    assert low == pytest.approx(high, abs=0.1)
    assert low > 2.0 * kinetics.SOLUBLE_RAW


def test_denaturation_heat_of_muscle() -> None:
    # Findlay & Stanley 1984: 3.0 to 3.8 J/g of muscle, all endotherms together.
    heats = kinetics.MYOSIN.heat_j_kg + kinetics.ACTIN.heat_j_kg
    protein, collagen = 0.2157, 0.014
    total = heats * protein + kinetics.COLLAGEN_OPENS.heat_j_kg * collagen
    assert 3.0e3 <= total <= 3.8e3


def test_oven_roast_water_curve_and_what_it_implies() -> None:
    # Computed in physics.md 2.1 from the published formula.
    temp = [50, 55, 60, 65, 70, 75, 80, 90]
    held = [0.738, 0.722, 0.677, 0.586, 0.486, 0.430, 0.409, 0.401]
    loss = [2.6, 8.2, 21.1, 38.5, 50.4, 55.3, 56.8, 57.4]
    stiff = [15.9, 27.1, 53.5, 79.9, 91.1, 94.1, 94.8, 95.0]
    found = water.roast_capacity_kg_kg(temp)
    assert found == pytest.approx(held, abs=0.00051)
    assert 100 * water.loss_from_moisture(found, 0.745) == pytest.approx(loss, abs=0.051)
    assert water.elastic_modulus_pa(temp) / 1000 == pytest.approx(stiff, abs=0.051)


def test_moisture_of_cooked_beef_implies_its_printed_losses() -> None:
    # J. Food Sci. 1963: 69.7, 64.7, 60.3 % at 60, 70, 80 °C; 15.8, 27.8, 35.8 % from 74.5 % raw.
    lost = 100 * water.loss_from_moisture([0.697, 0.647, 0.603], 0.745)
    assert lost == pytest.approx([15.8, 27.8, 35.8], abs=0.051)


def test_slow_curve_meets_the_moistures_it_was_fitted_to() -> None:
    for point in water.SLOW_POINTS:
        held = float(water.slow_capacity_kg_kg(point.temp_c))
        assert held == pytest.approx(point.water_per_protein, abs=0.08)
    assert water.slow_capacity_kg_kg(4.0) == pytest.approx(np.mean(water.RAW_POINTS), abs=0.02)
    assert water.slow_capacity_kg_kg(93.0) == pytest.approx(np.mean(water.BRAISED_POINTS), abs=0.02)


def test_slow_curve_fitted_again() -> None:
    temp, held, _ = zip(*water.SLOW_POINTS, strict=True)
    end = float(np.mean(water.BRAISED_POINTS))

    def missed(parameters: np.ndarray) -> np.ndarray:
        middle, width = parameters
        fall = (np.mean(water.RAW_POINTS) - end) / (1 + np.exp((np.array(temp) - middle) / width))
        return np.asarray(end + fall - np.array(held))

    fitted = least_squares(missed, [60.0, 5.0]).x
    assert fitted == pytest.approx([water.SLOW_MIDDLE_C, water.SLOW_WIDTH_C], abs=0.05)


def test_isotherm_fitted_again() -> None:
    moisture, activity = np.array(surface.ISOTHERM_POINTS).T

    def missed(parameters: np.ndarray) -> np.ndarray:
        c, k = parameters
        u = k * activity
        held = surface.MONOLAYER_KG_KG * c * u / ((1 - u) * (1 - u + c * u))
        return np.asarray(np.log(held / moisture))

    fitted = least_squares(missed, [10.0, 0.99]).x
    assert fitted == pytest.approx([surface.GAB_C, surface.GAB_K], rel=0.001)
    assert surface.water_activity(moisture) == pytest.approx(activity, abs=0.015)


def test_apparent_heat_capacity_of_beef_fat() -> None:
    # Morley 1972 in James & James, table 13.3: 3.35 to 5.53 kJ/(kg·K) between 5 and 25 °C,
    # kidney fat 3.89 to 4.06; liquid fat has 2.0.
    melting = fat.melting_enthalpy_j_kg(25.0) - fat.melting_enthalpy_j_kg(5.0)
    assert 3890 * 0.97 < melting / 20 + 1990 < 4060 * 1.03


def test_mutton_tallow_melts_much_as_the_beef_curve() -> None:
    # Bockisch 1998, table 3.13 (read second-hand): 60, 37, 20, 12 % solid; like beef (Zhang 2024).
    found = 100 * fat.solid_fraction([10.0, 20.0, 30.0, 35.0])
    assert found == pytest.approx([60, 37, 20, 12], abs=8.5)


def test_lean_beef_lets_go_of_fat_mostly_between_40_and_55_c() -> None:
    # Watkins 2004: 0.05 to 0.6 g/g over 30 to 90 °C, largest change at 40–55 °C.
    held = fat.holding_capacity_kg_kg([30.0, 40.0, 55.0, 70.0, 90.0])
    assert ((held >= 0.05) & (held <= 0.6)).all()
    drops = -np.diff(held)
    assert drops.argmax() == 1


def test_enzymes_of_brisket_fade_as_they_were_found_to() -> None:
    # Kaur, Seah & Boland 2020 (abstract): cathepsins B and L of brisket, 47 % left after 24 h at
    # 50 °C; heat stable in 1 h at 60 and 70 °C, read here as "most of it left".
    assert kinetics.left_after(86400.0, 50.0, kinetics.ENZYMES_FADE) == pytest.approx(
        0.47, abs=0.05
    )
    assert kinetics.left_after(3600.0, 60.0, kinetics.ENZYMES_FADE) > 0.9
    assert kinetics.left_after(3600.0, 70.0, kinetics.ENZYMES_FADE) > 0.7


def test_enzymes_weaken_in_hours_and_not_in_minutes() -> None:
    # Christensen et al. 2011 (abstract): shear of pork falls from reaching 53–58 °C to 17 h later.
    # At one temperature the integral is exact: rate·(1 − e^(−fade·t))/fade.
    time = np.linspace(0.0, 17 * 3600.0, 2001)
    got = kinetics.enzyme_weakening(time, np.full_like(time, 58.0))
    fade, split = (
        float(kinetics.rate_per_s(58.0, one))
        for one in (kinetics.ENZYMES_FADE, kinetics.ENZYMES_SPLIT)
    )
    assert got == pytest.approx(np.exp(-split * -np.expm1(-fade * time[-1]) / fade), rel=1e-6)
    assert got < 0.8
    assert kinetics.enzyme_weakening([0.0, 600.0], [58.0, 58.0]) > 0.98
    with pytest.raises(PhysicsRangeError, match="must not fall"):
        kinetics.enzyme_weakening([600.0, 0.0], [58.0, 58.0])
