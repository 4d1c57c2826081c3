"""Simulations as jobs: from files, trials and options; stopped, resumed, the same every time."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fairsmoke.answers.demonstration import Demonstration
from fairsmoke.answers.simulation import key_of, simulate_side_by_side
from fairsmoke.answers.simulation_file import plan_of_file
from fairsmoke.answers.simulation_quick import quick_plan
from fairsmoke.answers.simulation_trial import SimulationOptions, plan_of_trial
from fairsmoke.cooking import (
    ArmToCook,
    Conditions,
    MeasuredPiece,
    PieceToCook,
    ProtocolError,
    SideBySide,
    SideBySideError,
    Simulated,
    difference,
    prepare,
)
from fairsmoke.cooking.side_by_side import OF_THE_PIECE, VALUES, draws_of, interval
from fairsmoke.cooking.unknowns import NAMES
from fairsmoke.demo import demo_trial
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.errors import FolderError
from fairsmoke.setting_up.method import Method
from fairsmoke.trial.protocol import Cover, EndCondition, Protocol, Stage, Wrap

SLAB = MeasuredPiece("slab", 2.0, 0.25, 0.16, 0.05)
FILE = """
title: Foil or bare
altitude: 300 m
pieces:
  - id: brisket
    cut: brisket
    mass: 5.6 kg
    length: 42 cm
    width: 30 cm
    thick: 7.5 cm
  - id: hot-side
    cut: brisket
    mass: 5.2 kg
    length: 41 cm
    width: 29 cm
    thick: 7.5 cm
    air: 6 K
protocol:
  stages:
    - id: smoke
      name: Smoke
      surround: 121 °C
      ends: [{core: 71 °C}]
    - id: finish
      name: Finish
      surround: 135 °C
      ends: [{core: 90 °C}, {elapsed: 20 h}]
arms:
  - id: bare
    name: Bare
  - id: foil
    name: Foil
    changes: [{stage: finish, wrap: foil}]
"""


def cook(cover: Cover = Cover.BARE, pit_c: float = 121.0, hours: float = 3.0) -> Protocol:
    stage = Stage(
        id="smoke",
        name="Smoke",
        surround_c=pit_c,
        wrap=Wrap(above=cover, below=cover),
        ends=(EndCondition(elapsed_s=3600.0 * hours),),
    )
    return Protocol(stages=(stage,))


def plan(members: int = 70, **more: object) -> SideBySide:
    arms = (ArmToCook("bare", "Bare", cook()), ArmToCook("foil", "Foil", cook(Cover.FOIL)))
    pieces = (PieceToCook("one", "One", SLAB), PieceToCook("two", "Two", SLAB))
    return replace(SideBySide("Slabs", arms, pieces, members), **more)  # type: ignore[arg-type]


def same(one: Simulated, other: Simulated) -> bool:
    return all(
        np.array_equal(array, other.cooked[key].arrays()[name], equal_nan=True)
        for key, cooked in one.cooked.items()
        for name, array in cooked.arrays().items()
    )


def test_same_numbers_whatever_the_workers() -> None:
    assert same(simulate_side_by_side(plan(), workers=1), simulate_side_by_side(plan(), workers=3))


def test_stopped_by_ctrl_c_and_gone_on_from_the_file(tmp_path: Path) -> None:
    def stop(done: int, of: int) -> None:
        if done >= of // 3:
            raise KeyboardInterrupt

    part = simulate_side_by_side(plan(), tmp_path, workers=1, progress=stop)
    assert 0 < part.done < part.cooks
    seen: list[int] = []
    whole = simulate_side_by_side(
        plan(), tmp_path, workers=2, progress=lambda done, of: seen.append(done)
    )
    assert whole.complete
    assert seen[0] > part.done
    assert same(whole, simulate_side_by_side(plan(), workers=2))
    (file,) = tmp_path.rglob("draws.*.npz")
    assert file.stat().st_size < 2_000_000


def test_what_is_done_is_not_run_again(tmp_path: Path) -> None:
    simulate_side_by_side(plan(), tmp_path)
    seen: list[int] = []
    again = simulate_side_by_side(plan(), tmp_path, progress=lambda d, of: seen.append(d))
    assert again.complete
    assert not seen
    afresh = simulate_side_by_side(
        plan(), tmp_path, progress=lambda d, of: seen.append(d), afresh=True
    )
    assert seen
    assert same(again, afresh)


def test_a_damaged_file_is_as_good_as_none(tmp_path: Path) -> None:
    simulate_side_by_side(plan(), tmp_path)
    (file,) = tmp_path.rglob("draws.*.npz")
    file.write_bytes(file.read_bytes()[:2000])
    assert simulate_side_by_side(plan(), tmp_path).complete


def test_digest_follows_what_the_numbers_rest_on() -> None:
    base = key_of(plan())
    assert key_of(plan(title="Another")) == base
    assert key_of(plan(seed=2)) != base
    assert key_of(plan(members=71)) != base
    hotter = (ArmToCook("bare", "Bare", cook(pit_c=122.0)), plan().arms[1])
    assert key_of(plan(arms=hotter)) != base
    piece = replace(plan().pieces[0], conditions=Conditions(tender_c=93.0))
    assert key_of(plan(pieces=(piece, plan().pieces[1]))) != base


def test_pieces_share_what_is_the_models_and_not_what_is_their_own() -> None:
    first, second = (draws_of(plan(), at) for at in (0, 1))
    for column, name in enumerate(NAMES):
        shared = np.array_equal(first[:, column], second[:, column])
        assert shared == (name not in OF_THE_PIECE)
    assert not first[0].any()


def test_arms_on_the_same_draws_differ_more_sharply_than_their_ends() -> None:
    found = simulate_side_by_side(plan())
    change = difference(found.value("foil", "evaporated"), found.value("bare", "evaporated"))
    low, _, high = interval(found.value("bare", "evaporated"))
    assert change.high < 0.0
    assert change.chance_more == 0.0
    assert change.high - change.low < 1.2 * (high - low)
    total = sum(
        found.value("bare", name)
        for name in ("yield", "evaporated", "dripped", "rendered", "in_wrap")
    )
    # Conservation: all parts of the raw mass are all of it.
    assert np.allclose(total, 1.0, atol=1e-6)


def test_plans_that_cannot_be_are_refused_with_place_and_mend() -> None:
    with pytest.raises(SideBySideError, match="20 to 20,000"):
        plan(members=3)
    with pytest.raises(SideBySideError, match="two pieces are called 'one'"):
        plan(pieces=(plan().pieces[0], plan().pieces[0]))
    for piece, message in (
        (replace(SLAB, mass_kg=0.0), "arm 'bare', piece 'one': mass of the piece is 0 kg"),
        (replace(SLAB, thick_m=0.2), "Measure again"),
    ):
        wrong = PieceToCook("one", "One", piece)
        with pytest.raises(ValueError, match=message):
            prepare(plan(pieces=(wrong,)))
    hot = (ArmToCook("hell", "Hell", cook(pit_c=900.0)),)
    with pytest.raises(ValueError, match=r"arm 'hell'.*900 °C.*280"):
        prepare(plan(arms=hot))


@pytest.mark.parametrize(("core_c", "pit_c"), [(85.0, 60.0), (130.0, 121.0)])
def test_a_protocol_that_can_never_end_is_refused(core_c: float, pit_c: float) -> None:
    ends = (EndCondition(core_c=core_c),)
    stage = Stage(id="smoke", name="Smoke", surround_c=pit_c, ends=ends)
    arms = (ArmToCook("bare", "Bare", Protocol(stages=(stage,))),)
    with pytest.raises(ProtocolError, match=r"arm 'bare'.*stage 'smoke'.*time"):
        prepare(plan(arms=arms))


def test_a_file_says_all(tmp_path: Path) -> None:
    path = tmp_path / "foil.yaml"
    path.write_text(FILE, encoding="utf-8")
    read = plan_of_file(path, members=20).plan
    assert [arm.id for arm in read.arms] == ["bare", "foil"]
    assert read.arms[1].protocol.stages[1].wrap.text == "foil"
    first, second = read.pieces
    assert first.piece.mass_kg == 5.6
    assert first.piece.thick_m == pytest.approx(0.075)
    assert second.conditions.cooker.position_k == 6.0
    assert second.conditions.site.altitude_m == 300.0
    found = simulate_side_by_side(read)
    # Hotter air at its place is never later.
    one, other = (np.median(found.mark("bare", 60.0, p.id)) for p in read.pieces)
    assert other < one


@pytest.mark.parametrize(
    ("was", "now", "message"),
    [
        ("mass: 5.6 kg", "mass: 5.6", "line LINE: pieces 1, mass"),
        ("surround: 121 °C", "surround: hot", "line LINE: protocol, stages 1"),
        ("cut: brisket\n    mass: 5.6", "cutt: brisket\n    mass: 5.6", "did you mean 'cut'"),
        ("wrap: foil", "wrap: cling", "line LINE: arms 2"),
        ("stage: finish", "stage: finnish", "there is no stage 'finnish'"),
        ("title:", "title: [", "not YAML"),
    ],
)
def test_a_wrong_file_names_the_line(tmp_path: Path, was: str, now: str, message: str) -> None:
    path = tmp_path / "wrong.yaml"
    line = FILE[: FILE.index(was)].count("\n") + 1
    path.write_text(FILE.replace(was, now, 1), encoding="utf-8")
    with pytest.raises((FolderError, JobError)) as caught:
        plan_of_file(path)
    assert message.replace("LINE", str(line)) in str(caught.value)


def test_a_trial_gives_its_pieces_as_recorded(made: Demonstration) -> None:
    with Notebook.open(made.notebook) as book:
        record = book.load_trial(made.trial)
    asked = plan_of_trial(record, SimulationOptions(members=20))
    found = asked.plan
    assert [arm.id for arm in found.arms] == [arm.id for arm in record.trial.arms]
    assert [piece.id for piece in found.pieces] == [unit.id for unit in record.units]
    first = found.pieces[0]
    assert first.piece.cut == "pork shoulder"
    assert first.piece.mass_kg == pytest.approx(4.112, abs=0.03)
    assert first.conditions.site.altitude_m == 60.0
    assert first.conditions.start_clock_s == pytest.approx(19 * 3600, abs=3600)
    # The demo's right side runs hotter; both sides are told against their mean.
    by_side = {
        unit.spot.position: piece.conditions.cooker.position_k
        for unit, piece in zip(record.units[:2], found.pieces[:2], strict=True)
        if unit.spot is not None
    }
    assert by_side["right"] > 0.0
    assert by_side["left"] == pytest.approx(-by_side["right"])
    assert any("94 °C" in str(text) for text in asked.assumed)


def test_a_trial_may_be_cooked_in_its_own_air(made: Demonstration) -> None:
    with Notebook.open(made.notebook) as book:
        record = book.load_trial(made.trial)
    options = SimulationOptions(measured=True, pieces=("shoulder-2",), members=20)
    found = plan_of_trial(record, options).plan
    (piece,) = found.pieces
    times, degrees = (np.array(one) for one in (piece.conditions.pit_s, piece.conditions.pit_c))
    assert times[0] == 0.0
    assert np.all(np.diff(times) > 0)
    assert 100.0 < np.median(degrees) < 140.0
    assert piece.conditions.cooker.position_k == 0.0
    assert simulate_side_by_side(found).complete


def test_a_trial_that_lacks_something_says_what_to_record() -> None:
    record = demo_trial(2026).record
    units = {unit.id: unit for unit in record.units}

    def with_piece(**change: object) -> list[object]:
        return [
            unit.model_copy(update=change) if unit.id == "shoulder-1" else unit
            for unit in units.values()
        ]

    for change, message in (
        ({"thick_m": None}, "correct piece shoulder-1 thick="),
        ({"cut": "goat leg"}, "as 'shoulder-1=brick'"),
    ):
        wrong = replace(record, pieces=tuple(with_piece(**change)))  # type: ignore[arg-type]
        with pytest.raises(JobError) as caught:
            plan_of_trial(wrong)
        assert message in str(caught.value)
    with pytest.raises(JobError, match="no piece 'nobody'"):
        plan_of_trial(record, SimulationOptions(pieces=("nobody",)))
    with pytest.raises(JobError, match="no pit temperature was read"):
        plan_of_trial(record, SimulationOptions(measured=True))


SIZES = {"cut": "brisket", "mass": "5.6 kg", "length": "42 cm", "width": "30 cm", "thick": "7 cm"}


def test_options_make_arms() -> None:
    base = Method(wrap="boat", hold="66 °C")
    found = quick_plan(SIZES, base, ["wrap=foil", "wrap=, until=90 °C"], members=20).plan
    assert [arm.name for arm in found.arms] == [
        "121 °C, boat",
        "121 °C, foil",
        "121 °C, bare, until 90 °C",
    ]
    assert [len(arm.protocol.stages) for arm in found.arms] == [3, 3, 2]
    assert found.arms[0].protocol.stages[1].wrap.text == "bare above, foil below"


@pytest.mark.parametrize(
    ("sizes", "method", "against", "message"),
    [
        ({"mass": "5.6"}, {}, [], "mass"),
        ({"thick": ""}, {}, [], "say thick"),
        ({"cut": "ham"}, {}, [], "cut 'ham'"),
        ({}, {"pit": "250"}, [], "pit"),
        ({}, {"wrap": "tin"}, [], "wrap “tin”"),
        ({}, {}, ["colour=red"], "against “colour=red”"),
        ({}, {}, ["until=soon"], "until"),
    ],
)
def test_wrong_options_are_named(
    sizes: dict[str, str], method: dict[str, str], against: list[str], message: str
) -> None:
    with pytest.raises(JobError) as caught:
        quick_plan(SIZES | sizes, replace(Method(), **method), against)
    assert message in str(caught.value)


def test_every_value_is_kept_for_every_draw() -> None:
    found = simulate_side_by_side(plan(members=20))
    for name in VALUES:
        some = np.isfinite(found.value("bare", name, "one"))
        # A slab has no cap to render.
        assert some.all() != (name == "cap_rendered")


def test_the_file_in_the_docs_can_be_simulated(tmp_path: Path) -> None:
    docs = (Path(__file__).parents[2] / "docs" / "simulator.md").read_text(encoding="utf-8")
    path = tmp_path / "docs.yaml"
    path.write_text(docs.split("```yaml\n")[1].split("```")[0], encoding="utf-8")
    read = plan_of_file(path, members=20).plan
    assert [len(arm.protocol.stages) for arm in read.arms] == [2, 2]
    assert read.pieces[0].conditions.start_clock_s == 19 * 3600.0
    prepare(read)
