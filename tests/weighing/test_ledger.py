"""The mass ledger as a cook meets it: weighings of an invented kitchen and what is said of them."""

from dataclasses import replace

import numpy as np
import pytest

from fairsmoke.quantity import US
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.trial.weighing import MeatState, Part, PartEstimate, Scale, Weighing
from fairsmoke.weighing import (
    Known,
    LedgerError,
    Solution,
    compare_yields,
    solve_ledger,
    yield_of,
)

BENCH = Scale(id="bench", name="bench scale", resolution_kg=0.005, repeatability_kg=0.002)


def weigh(id_: str, reading: float | str, text: str, piece: str | None = "left") -> Weighing:
    return Weighing.model_validate(
        {
            "id": id_,
            "piece": piece,
            "scale": "bench",
            "reading_kg": reading,
            "sum": text.split(" + "),
        }
    )


def fat(piece: str, low: str = "40 g", high: str = "160 g") -> PartEstimate:
    return PartEstimate.model_validate(
        {
            "id": f"fat-{piece}",
            "piece": piece,
            "part": "clinging fat",
            "low_kg": low,
            "high_kg": high,
            "why": "scraped off another piece once",
        }
    )


TRAY = weigh("tray", "830 g", "green tray", None)
LEFT = [
    weigh("on", "6.400 kg", "trimmed meat + green tray"),
    weigh("off", "4.235 kg", "cooked meat + clinging fat + green tray"),
    weigh("pan", "0.430 kg", "drippings"),
]


def known(solution: Solution, text: str, piece: str | None = "left") -> Known:
    return solution.known(piece, Part.parse(text)).how


def refusal(*weighings: Weighing, scales: tuple[Scale, ...] = (BENCH,)) -> LedgerError:
    with pytest.raises(LedgerError) as caught:
        solve_ledger(weighings, scales)
    return caught.value


def test_each_part_says_how_it_is_known() -> None:
    solution = solve_ledger([TRAY, *LEFT], [BENCH], [fat("left")])
    assert known(solution, "green tray", None) is Known.WEIGHED
    assert known(solution, "green tray", "left") is Known.WEIGHED
    assert known(solution, "drippings") is Known.WEIGHED
    assert known(solution, "trimmed meat") is Known.SOLVED
    assert known(solution, "clinging fat") is Known.ESTIMATED
    assert known(solution, "cooked meat") is Known.SOLVED
    assert known(solution, "held meat") is Known.UNKNOWN
    cooked = solution.known("left", Part.parse("cooked meat"))
    assert cooked.leans_on == ("fat-left",)
    assert set(cooked.rests_on) == {"fat-left", "off", "tray"}
    without = solve_ledger([TRAY, *LEFT], [BENCH])
    assert known(without, "clinging fat") is Known.BOUNDED
    assert known(without, "cooked meat") is Known.BOUNDED


def test_rows_show_sensible_digits_and_say_what_was_not_weighed() -> None:
    rows = {str(row.label): row for row in solve_ledger([TRAY, *LEFT], [BENCH]).rows("left")}
    say, american = ENGLISH.say, replace(ENGLISH, units=US).say
    assert say(rows["drippings"].value) == "430.0 ± 4.8 g"
    assert say(rows["drippings"].note) == "weighed"
    assert say(rows["trimmed meat"].value).startswith("5.5")
    assert say(rows["trimmed meat"].value).endswith(" kg")
    assert say(rows["clinging fat"].value) == "not weighed"
    assert say(rows["clinging fat"].note) == "anywhere from 0.0 to 3.4 kg"
    assert american(rows["drippings"].value) == "15.17 oz ± 0.17 oz"
    assert american(rows["clinging fat"].note) == "anywhere from 0.0 oz to 7 lb 8.1 oz"
    held = solve_ledger([TRAY], [BENCH]).known("left", Part.parse("held meat"))
    assert say(held.row().value) == "not known"


def test_an_estimate_that_is_also_weighed_no_longer_matters() -> None:
    solution = solve_ledger(
        [TRAY, *LEFT, weigh("scrape", "95 g", "clinging fat")], [BENCH], [fat("left")]
    )
    scraped = solution.known("left", Part.parse("clinging fat"))
    assert scraped.how is Known.WEIGHED
    assert scraped.leans_on == ()
    assert scraped.spread is not None
    assert scraped.spread.mean == pytest.approx(0.095, abs=2e-4)


def test_the_weighing_that_is_wrong_is_named() -> None:
    again = [
        weigh("on-2", "6.402 kg", "trimmed meat + green tray"),
        weigh("on-3", "6.710 kg", "trimmed meat + green tray"),
    ]
    solution = solve_ledger([TRAY, *LEFT, *again], [BENCH], [fat("left")])
    (disagreement,) = solution.disagreements
    assert disagreement.ids == ("on", "on-2", "on-3")
    (suspect,) = disagreement.suspects
    assert suspect.observation.id == "on-3"
    assert suspect.off_kg == pytest.approx(0.309, abs=1e-6)
    text = str(disagreement.words)
    assert "look at weighing on-3 (6.710 kg: trimmed meat + green tray)" in text
    assert "309 g too much" in text
    # What does not rest on them is as sure as ever, and what does is not.
    calm = solve_ledger([TRAY, *LEFT], [BENCH], [fat("left")])
    for part, wider in [("drippings", False), ("trimmed meat", True)]:
        before, after = (s.known("left", Part.parse(part)).spread for s in (calm, solution))
        assert before is not None
        assert after is not None
        assert (after.half_width > 5 * before.half_width) is wider
    shares = yield_of(solution, "left", MeatState.COOKED).sources
    assert shares[0].name == "weighings that disagree"


def test_two_that_contradict_each_other_are_both_suspects() -> None:
    again = weigh("on-2", "6 lb 1 oz", "trimmed meat")
    solution = solve_ledger([weigh("on", "6 lb 11 oz", "trimmed meat"), again], [BENCH])
    (disagreement,) = solution.disagreements
    text = replace(ENGLISH, units=US).say(disagreement.words)
    assert "on and on-2 disagree by 10.0 oz" in text
    assert "weighing on (6 lb 11 oz: trimmed meat) is 10.0 oz too much or weighing on-2" in text


def test_agreeing_weighings_raise_nothing() -> None:
    again = weigh("on-2", "6.405 kg", "trimmed meat + green tray")
    assert not solve_ledger([TRAY, *LEFT, again], [BENCH]).disagreements


def test_cooked_meat_heavier_than_what_went_on_is_refused() -> None:
    error = refusal(
        weigh("on", "5.570 kg", "trimmed meat"), weigh("off", "5.700 kg", "cooked meat")
    )
    assert error.pieces == ("left",)
    assert set(error.weighings) == {"on", "off"}
    assert "cooked meat of left outweighs all that it can come from (trimmed meat) by 130 g" in str(
        error
    )
    assert "weighing off (5.700 kg: cooked meat)" in str(error)


def test_added_fat_may_make_meat_heavier() -> None:
    solution = solve_ledger(
        [
            weigh("on", "1.000 kg", "trimmed meat"),
            weigh("butter", "200 g", "added fat"),
            weigh("off", "1.050 kg", "cooked meat"),
        ],
        [BENCH],
    )
    assert yield_of(solution, "left", MeatState.COOKED).value == pytest.approx(1.05, abs=0.001)


def test_meat_within_the_error_of_the_scale_is_not_refused() -> None:
    solution = solve_ledger(
        [weigh("on", "1.000 kg", "trimmed meat"), weigh("off", "1.005 kg", "cooked meat")], [BENCH]
    )
    assert yield_of(solution, "left", MeatState.COOKED).spread.high <= 1 + 1e-9


def test_a_part_below_nothing_is_refused_with_every_piece_that_is_wrong() -> None:
    error = refusal(
        TRAY,
        weigh("w1", "800 g", "used wrap + green tray"),
        weigh("w2", "700 g", "used wrap + green tray", "right"),
    )
    assert len(error.problems) == 2
    assert "used wrap of left would have to be 30 g less than nothing" in str(error.problems[0])
    assert "used wrap of right would have to be 130 g less than nothing" in str(error.problems[1])
    assert set(error.weighings) == {"tray", "w1", "w2"}


def test_what_is_open_can_be_impossible_too() -> None:
    # The tray takes at most 300 g, so that at least 3.7 kg are left of 3 kg of meat.
    error = refusal(
        weigh("w1", "300 g", "x tray + used wrap"),
        weigh("w2", "4.000 kg", "cooked meat + x tray"),
        weigh("w3", "3.000 kg", "trimmed meat"),
    )
    assert set(error.weighings) == {"w1", "w2", "w3"}
    assert "700 g" in str(error)


def test_what_is_open_stays_within_what_errors_make_possible() -> None:
    # Cooked meat reads 4 g more than it can be, which the scale can err; fat and wrap stay open.
    solution = solve_ledger(
        [
            weigh("on", "1.000 kg", "trimmed meat"),
            weigh("off", "1.004 kg", "cooked meat"),
            weigh("all", "1.104 kg", "cooked meat + clinging fat + used wrap"),
        ],
        [BENCH],
    )
    wrap = solution.known("left", Part.parse("used wrap"))
    assert wrap.possible_kg == pytest.approx((0.0, 0.100), abs=0.005)
    assert yield_of(solution, "left", MeatState.COOKED).spread.high <= 1 + 1e-9


def test_meat_cannot_outweigh_the_raw_meat_however_juicy() -> None:
    # 2.9 kg cooked meat and 0.5 kg drippings could make 3.4 kg held meat, of 3 kg raw meat not.
    solution = solve_ledger(
        [
            weigh("on", "3.000 kg", "trimmed meat"),
            weigh("off", "2.900 kg", "cooked meat"),
            weigh("pan", "500 g", "drippings"),
            weigh("held", "5.000 kg", "held meat + y tray"),
        ],
        [BENCH],
    )
    held = solution.known("left", Part.parse("held meat"))
    assert held.possible_kg == pytest.approx((0.0, 3.0), abs=1e-6)


def test_errors_at_their_limits_all_at_once_are_refused() -> None:
    plain = Scale(id="bench", name="bench", resolution_kg=0.005)
    error = refusal(
        weigh("w1", 0.500, "x tray"), weigh("w2", 0.495, "drippings + x tray"), scales=(plain,)
    )
    assert "every scale errs as far as it can" in str(error)
    assert set(error.weighings) == {"w1", "w2"}


def test_a_disagreement_is_told_with_the_refusal() -> None:
    error = refusal(
        weigh("on", "5.570 kg", "trimmed meat"),
        weigh("on-2", "6.570 kg", "trimmed meat"),
        weigh("off", "9.000 kg", "cooked meat"),
    )
    assert any("on and on-2 disagree by 1000 g" in str(problem) for problem in error.problems)


@pytest.mark.parametrize(
    ("weighings", "said"),
    [
        ((), "nothing was weighed"),
        ((TRAY, TRAY), "the id tray is used twice"),
        (
            (Weighing(id="w", scale="lost", reading_kg=1.0, sum=["tray"]),),
            "weighing w was made on scale lost, which is not described",
        ),
    ],
)
def test_records_that_cannot_be_used(weighings: tuple[Weighing, ...], said: str) -> None:
    assert said in str(refusal(*weighings))


def test_the_seed_decides_the_draws() -> None:
    first, same, other = (
        solve_ledger([TRAY, *LEFT], [BENCH], seed=seed).drawn_kg for seed in (1, 1, 2)
    )
    assert np.array_equal(first, same)
    assert not np.array_equal(first, other)


def test_monte_carlo_says_how_far_its_own_ends_may_be_off() -> None:
    spreads = [
        yield_of(
            solve_ledger([TRAY, *LEFT], [BENCH], [fat("left")], seed=seed),
            "left",
            MeatState.COOKED,
        ).spread
        for seed in range(12)
    ]
    ends = np.array([spread.low for spread in spreads])
    claimed = float(np.mean([spread.end_error for spread in spreads]))
    assert 0.4 * claimed < float(np.std(ends, ddof=1)) < 2.5 * claimed


def test_tray_shared_by_pieces_cancels_from_their_difference() -> None:
    right = [
        weigh("on-r", "6.100 kg", "trimmed meat + green tray", "right"),
        weigh("off-r", "4.040 kg", "cooked meat + clinging fat + green tray", "right"),
    ]
    fats = [fat("left"), fat("right")]
    shared = compare_yields(
        solve_ledger([*LEFT, *right, TRAY], [BENCH], fats), "left", "right", MeatState.COOKED
    )
    lost = compare_yields(
        solve_ledger([*LEFT, *right], [BENCH], fats), "left", "right", MeatState.COOKED
    )
    alone = yield_of(solve_ledger([*LEFT, *right], [BENCH], fats), "left", MeatState.COOKED)
    # Nobody knows what the tray weighs, but it is the same tray under both.
    assert lost.spread.standard_uncertainty < 0.2 * alone.standard_uncertainty
    assert lost.spread.standard_uncertainty > shared.spread.standard_uncertainty
