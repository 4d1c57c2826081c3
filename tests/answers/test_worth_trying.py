"""Which method is worth trying: the design, cooking and going on, the ranking, what is told."""

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import qmc
from tests.telling.german import messages, untranslated

from fairsmoke.answers.worth_trying import WorthTrying, compute, cook_all, missing, sweep_of
from fairsmoke.answers.worth_trying_options import (
    measures_of,
    range_of,
    settings_of,
    space_of,
)
from fairsmoke.app.people.reader import show_for
from fairsmoke.cooking import MeasuredPiece, run_ensemble, simulate
from fairsmoke.cooking.sweep import Sweep, Swept, run_sweep
from fairsmoke.cooking.unknowns import draw
from fairsmoke.messages.errors import JobError
from fairsmoke.planning.errors import PlanError
from fairsmoke.planning.methods.choice import MethodsAnswer, MethodSweep, answer_of
from fairsmoke.planning.methods.contrasts import contrasts_of, ranked
from fairsmoke.planning.methods.space import (
    FACTORS,
    HOUR_S,
    DesignSpace,
    FactorRange,
    MethodSettings,
)
from fairsmoke.planning.size.cost import Prices
from fairsmoke.planning.size.how_many import Means
from fairsmoke.quantity import US
from fairsmoke.telling.as_text import document_text
from fairsmoke.telling.chart_style import write_picture
from fairsmoke.telling.document import from_json, to_json
from fairsmoke.telling.reader import Reader
from fairsmoke.telling.simulator_words import STANDING
from fairsmoke.telling.worth_trying import (
    all_methods_section,
    worth_trying_json,
    worth_trying_sections,
)
from fairsmoke.telling.worth_trying_chart import worth_trying_chart

# A small slab of a cut: a whole body of it is quick.
PIECE = {
    "cut": "pork shoulder",
    "mass": "2 kg",
    "length": "20 cm",
    "width": "14 cm",
    "thick": "9 cm",
}
SPACE = DesignSpace(wraps=("bare", "foil"), hold_s=FactorRange(HOUR_S, 4 * HOUR_S))
BASE = MethodSettings(wrap="foil", hold_s=2 * HOUR_S)
READER = show_for(None, None, "en")


def _question(methods: int = 8, draws: int = 20, whole: int = 2, seed: int = 1) -> WorthTrying:
    return WorthTrying(
        PIECE,
        {"hold_for": "1 h to 4 h"},
        wraps="bare,foil",
        base="wrap=foil, hold-for=2 h",
        most=3,
        price_piece=60.0,
        price_cook=25.0,
        currency="€",
        methods=methods,
        draws=draws,
        whole_draws=whole,
        seed=seed,
    )


def _asked(methods: int = 8, members: int = 20, whole: int = 2, seed: int = 1) -> MethodSweep:
    return sweep_of(_question(methods, members, whole, seed))


def _text(told: MethodsAnswer, reader: Reader = READER) -> str:
    return document_text(worth_trying_sections(told), reader)


@pytest.fixture(scope="module")
def asked() -> MethodSweep:
    return _asked()


@pytest.fixture(scope="module")
def found(asked: MethodSweep) -> Swept:
    return cook_all(asked, workers=2)


@pytest.fixture(scope="module")
def told(asked: MethodSweep, found: Swept) -> MethodsAnswer:
    means = Means(most=3, prices=Prices(60.0, 25.0, None, "€"))
    return answer_of(asked, found, measures_of("2 points,1 h"), means)


def test_design_gives_every_kind_the_same_points_that_fill_the_space() -> None:
    methods = DesignSpace().fill(200, 3)
    assert len(methods) == 200
    by_kind: dict[tuple[str, bool], list[list[float]]] = {}
    for method in methods:
        by_kind.setdefault((method.wrap, method.pan), []).append(
            [getattr(method, k) for k in FACTORS]
        )
    assert len(by_kind) == 8
    first, *others = by_kind.values()
    assert all(other == first for other in others)
    space = DesignSpace()
    lows = [getattr(space, k).low for k in FACTORS]
    highs = [getattr(space, k).high for k in FACTORS]
    unit = qmc.scale(np.array(first), lows, highs, reverse=True)
    random = np.random.default_rng(1).random((200, *unit.shape))
    # SciPy's discrepancy: lower than that of nearly all random designs.
    assert qmc.discrepancy(unit) < np.quantile([qmc.discrepancy(one) for one in random], 0.05)
    assert DesignSpace().fill(200, 3) == methods
    assert DesignSpace().fill(200, 4) != methods


def test_values_are_those_of_single_cooks(asked: MethodSweep, found: Swept) -> None:
    # Draw 0 is the middle of everything: the simulator's own single cook, region by region.
    for at in (0, 3):
        for whole, array in ((False, found.column), (True, found.body)):
            one = simulate(
                asked.sweep.piece,
                asked.sweep.protocols[at],
                whole_body=whole,
                conditions=asked.sweep.conditions,
            )
            expected = {
                "yield": one.yield_share,
                "collagen_core": one.regions["core"].collagen_dissolved,
                "crust_kg_m2": one.crust_top_kg_m2,
                "cap_rendered": one.cap_rendered,
                "end_s": one.end_s,
                "growth_s": one.growth_s,
                "log_salmonella": one.regions["whole"].log_salmonella,
            }
            for name, value in expected.items():
                # Steps that fit amplify the last digit of a member's start.
                assert array[name][at, 0] == pytest.approx(value, rel=2e-5), name


def test_shift_is_exact_where_every_draw_is_on_the_whole_body_alone(asked: MethodSweep) -> None:
    # With one common draw the shifted value of that draw is the whole body's own.
    plan = replace(asked.sweep, protocols=asked.sweep.protocols[:2], whole=1)
    found = Swept.empty(plan)
    run_sweep(found, workers=1)
    for name in ("yield", "end_s", "collagen_core", "log_salmonella", "crust_kg_m2"):
        assert found.value(name)[:, 0] == pytest.approx(found.body[name][:, 0], rel=1e-9)


def test_shifted_draws_are_near_those_of_the_whole_body(asked: MethodSweep) -> None:
    protocol = asked.sweep.protocols[1]
    plan = replace(asked.sweep, protocols=(protocol,), members=40, whole=4)
    found = Swept.empty(plan)
    run_sweep(found, workers=2)
    whole = run_ensemble(
        plan.piece,
        protocol,
        plan.conditions,
        members=40,
        whole_body=True,
        normal=draw(40, plan.seed, 0),
    )
    kept = whole.shares["kept"]
    shifted = found.value("yield")[0]
    assert np.median(shifted) == pytest.approx(np.median(kept), abs=0.015)
    # The column alone is farther off than that: the shift does something.
    assert abs(np.median(found.column["yield"][0]) - np.median(kept)) > 0.05
    assert np.std(shifted) == pytest.approx(np.std(kept), rel=0.15)
    assert np.corrcoef(shifted, kept)[0, 1] > 0.9


def test_workers_and_a_stop_do_not_change_numbers(
    asked: MethodSweep, found: Swept, tmp_path: Path
) -> None:
    def same(other: Swept) -> None:
        for name, array in found.arrays().items():
            assert np.array_equal(array, other.arrays()[name], equal_nan=True), name

    same(cook_all(asked, workers=1))

    class _StopError(Exception):
        pass

    def stop(done: int, of: int) -> None:
        if done >= 3:
            raise _StopError

    with pytest.raises(_StopError):
        cook_all(asked, tmp_path, workers=1, progress=stop)
    (file,) = tmp_path.rglob("draws.*.npz")
    with np.load(file) as kept:
        assert 3 <= kept["done"].sum() < found.done.size
    seen: list[int] = []
    same(cook_all(asked, tmp_path, workers=2, progress=lambda done, of: seen.append(done)))
    assert seen[0] > 3
    again: list[int] = []
    same(cook_all(asked, tmp_path, progress=lambda done, of: again.append(done)))
    assert again == []
    (file,) = tmp_path.rglob("draws.*.npz")
    file.write_bytes(b"not a file of ours")
    same(cook_all(asked, tmp_path, workers=2))


def test_other_inputs_are_other_files(asked: MethodSweep, tmp_path: Path) -> None:
    cook_all(_asked(methods=2), tmp_path)
    cook_all(_asked(methods=2, seed=2), tmp_path)
    assert len(list(tmp_path.rglob("draws.*.npz"))) == 2


def test_front_of_the_answer_is_that_of_brute_force(told: MethodsAnswer) -> None:
    front = told.front
    steps = np.array([0.02, 0.05, 0.1, 3600.0])
    names = ("yield", "collagen_core", "crust_kg_m2", "end_s")
    signs = np.array([1, 1, 1, -1])
    rows = np.array([np.median(told.found.value(n), axis=1) for n in names]).T * signs
    boxes = np.floor(rows / steps)
    assert 0 < front.front.sum() < front.allowed.sum()  # Some beaten, some not.
    for at in range(len(told.asked.methods)):
        beaten = any(
            other != at
            and front.allowed[other]
            and all(boxes[other] >= boxes[at])
            and any(boxes[other] > boxes[at])
            for other in range(len(told.asked.methods))
        )
        assert front.front[at] == (front.allowed[at] and not beaten)


def test_limits_keep_a_method_out() -> None:
    # A cool pit and a large cold piece: the core comes up too slowly (the 6 h of the guideline).
    big = PIECE | {"mass": "7 kg", "length": "30 cm", "width": "24 cm", "thick": "14 cm"}
    slow = replace(
        _question(2, whole=1),
        piece=big,
        ranges={"pit": "99 °C", "hold_for": "1 h to 4 h"},
        wraps="bare",
        base="pit=99 °C, wrap=bare",
        most=1,
    )
    told = compute(slow)
    assert not told.front.allowed.any()
    assert "No method keeps the limits surely" in _text(told)
    assert "within 6 h" in _text(told)
    assert ranked(told.worth, "yield") == []


def test_turns_change_one_knob_each() -> None:
    contrasts = contrasts_of(SPACE, BASE)
    assert [contrast.factor for contrast in contrasts] == [*FACTORS, "wrap", "pan"]
    for contrast in contrasts:
        changed = [
            k for k in vars(contrast.before) if vars(contrast.before)[k] != vars(contrast.after)[k]
        ]
        assert changed == [contrast.factor]
    bare = contrasts_of(SPACE, replace(BASE, wrap="bare"))
    assert "wrap_at_c" not in {contrast.factor for contrast in bare}


def test_worth_is_the_mean_size_over_what_chance_shows(told: MethodsAnswer) -> None:
    for one, (before, after) in zip(told.worth, told.asked.places, strict=True):
        change = told.found.value("yield")[after] - told.found.value("yield")[before]
        seen = one.seen["yield"]
        assert seen.expected == pytest.approx(float(np.mean(np.abs(change))))
        assert seen.ratio == pytest.approx(seen.expected / seen.by_chance)
        assert seen.costs == (145.0, 290.0, 435.0)
    order = [one.seen["yield"].ratio for one in ranked(told.worth, "yield")]
    assert len(order) >= 2
    assert order == sorted(order, reverse=True)
    # The hold does nothing to the time on the cooker, and is not ranked by it.
    assert not {"hold_c", "hold_s"} & {
        one.contrast.factor for one in ranked(told.worth, "cook time")
    }


def test_chance_of_one_pair_is_that_of_the_prior(told: MethodsAnswer) -> None:
    # One pair of pieces alike: normal with twice the variance of piece and place, the spreads
    # drawn from their priors one by one here.
    table = told.worth[0].seen["yield"]
    from fairsmoke.judging.modelling import believed_of
    from fairsmoke.judging.scaling import Scaling
    from fairsmoke.planning.size.repeats import Block

    priors = believed_of(told.measures[0], np.zeros(1), Scaling(None), Block().factors).priors
    rng = np.random.default_rng(3)
    parts = [priors.piece, *(priors.group(name) for name in Block().apart)]
    variance = sum(p.sd_at(rng.standard_normal(200_000)) ** 2 for p in parts)
    drawn = rng.standard_normal(200_000) * np.sqrt(2.0 * variance)
    assert np.mean(np.abs(drawn) > table.by_chance) == pytest.approx(0.05, abs=0.004)


def test_text_says_the_standing_caution_before_any_number(told: MethodsAnswer) -> None:
    text = " ".join(_text(told).split())
    assert text.index(str(STANDING)[:40]) < text.index("methods are better")
    assert "never show that food is safe" in text
    assert "food is safe." not in text.replace("never show that food is safe", "")
    assert worth_trying_json(told)["cautions"][0] == str(STANDING).removesuffix(".")


def test_json_has_every_method_and_no_nan(told: MethodsAnswer) -> None:
    content = json.loads(json.dumps(worth_trying_json(told), allow_nan=False))
    assert len(content["methods"]) == len(told.asked.methods)
    for row in content["methods"]:
        shown = row["values"]["yield"]
        assert shown["low"] <= shown["middle"] <= shown["high"]


@pytest.mark.parametrize(
    ("form", "start"), [("svg", b"<svg"), ("png", b"\x89PNG"), ("pdf", b"%PDF")]
)
def test_chart_is_drawn(told: MethodsAnswer, tmp_path: Path, form: str, start: bytes) -> None:
    path = tmp_path / f"front.{form}"
    chart = worth_trying_chart(worth_trying_json(told), READER, 700, ranking=True)
    write_picture(chart, path)
    assert path.read_bytes().startswith(start)


def test_ranges_as_people_write_them() -> None:
    usual = FactorRange(1.0, 2.0)
    assert range_of("pit", "", usual) == usual
    assert range_of("pit", "107 to 149 °C", usual) == FactorRange(107.0, 149.0)
    assert range_of("pit", "121 °C", usual) == FactorRange(121.0, 121.0)
    fahrenheit = range_of("pit", "225 °F to 275 °F", usual)
    assert (fahrenheit.low, fahrenheit.high) == pytest.approx((107.222, 135.0), abs=1e-3)
    assert range_of("hold_for", "2 h to 8 h", usual) == FactorRange(2 * HOUR_S, 8 * HOUR_S)
    assert settings_of("pit=135 °C, wrap=boat, pan=yes") == MethodSettings(135.0, "boat", pan=True)


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: range_of("pit", "hot", FactorRange(1, 2)), JobError, "pit 'hot'"),
        (lambda: range_of("pit", "149 to 107 °C", FactorRange(1, 2)), PlanError, "lower end first"),
        (lambda: space_of({}, wraps="leaf", pan="both"), PlanError, "no wrap 'leaf'"),
        (lambda: space_of({}, wraps="", pan="both"), PlanError, "at least one"),
        (lambda: space_of({}, wraps="bare", pan="perhaps"), JobError, "pan 'perhaps'"),
        (lambda: space_of({"hold": "50 to 60 °C"}, wraps="bare", pan="both"), PlanError, "57 °C"),
        (lambda: space_of({"until": "70 to 90 °C"}, wraps="foil", pan="both"), PlanError, "wrap"),
        (lambda: settings_of("heat=9"), JobError, "OPTION=VALUE"),
        (lambda: settings_of("pit=warm"), JobError, "base 'pit=warm'"),
        (lambda: settings_of("pan=maybe"), JobError, "yes or no"),
        (lambda: measures_of("2 points"), JobError, "write two"),
        (lambda: DesignSpace().fill(1, 1), PlanError, "2 to 20,000"),
        (lambda: MethodSettings(pit_c=90.0), PlanError, "hotter pit"),
        (lambda: MethodSettings(hold_s=math.inf), PlanError, "72 h"),
        (
            lambda: Sweep(MeasuredPiece("pork shoulder", 2.0, 0.2, 0.14, 0.09), (), members=40),
            ValueError,
            "at least one protocol",
        ),
        (lambda: _asked(members=5), ValueError, "20 to 5,000"),
        (lambda: _asked(whole=0), ValueError, "on the whole body"),
    ],
)
def test_bad_input_names_the_place(
    call: Callable[[], object], error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        call()


def test_unfinished_and_unknown_goals_are_refused(asked: MethodSweep, found: Swept) -> None:
    measures, means = measures_of("2 points,1 h"), Means(most=1)
    with pytest.raises(PlanError, match="not every method"):
        answer_of(asked, Swept.empty(asked.sweep), measures, means)
    with pytest.raises(PlanError, match="no goal 'smoke'"):
        answer_of(asked, found, measures, means, goals=("smoke",))


def test_german_has_no_english_sentence(told: MethodsAnswer) -> None:
    sections = [*worth_trying_sections(told), all_methods_section(told)]
    assert len(list(messages(sections))) > 100
    assert untranslated(sections) == set()
    said = document_text(sections, show_for(None, None, "de"))
    assert "NÄCHSTE VERSUCH" in said
    assert "," in said
    for english in ("points", "draws", "held", "Chance that", "settle"):
        assert english not in said


def test_it_is_said_in_the_readers_units(told: MethodsAnswer) -> None:
    sections = [*worth_trying_sections(told), all_methods_section(told)]
    kept = from_json(json.loads(json.dumps(to_json(sections))))
    american = document_text(kept, replace(READER, units=US))
    assert "°F" in american
    assert "°C" not in american


def test_what_is_missing_is_said_without_cooking() -> None:
    assert missing(_question()) is None
    for change, words in (
        ({"worthwhile": "2 points"}, "write two"),
        ({"base": "pit=90 °C"}, "never brings a core"),
        ({"goals": "yield,smoke"}, "no goal 'smoke'"),
        ({"piece": PIECE | {"thick": ""}}, "say thick"),
        ({"piece": PIECE | {"mass": "20 kg"}}, "Measure again"),
        ({"most": 0}, "largest number of pairs"),
    ):
        assert words in str(missing(replace(_question(), **change)))
