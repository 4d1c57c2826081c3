"""Records: what is refused, and that the form in a file reads back the same."""

import hashlib
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from pydantic import ValidationError

from fairsmoke.trial.canonical import canonical_form, digest_of
from fairsmoke.trial.cook import Cook, Event, EventKind, Piece
from fairsmoke.trial.figure import Exclusion
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.protocol import Cover, EndCondition, Protocol, Stage, StageChange, Wrap
from fairsmoke.trial.question import Measure, Trial
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.registration import Registration
from fairsmoke.trial.tasting import Ballot
from fairsmoke.trial.weighing import MeatState, Part, PartEstimate, PartKind, Scale, Weighing

LONDON = ZoneInfo("Europe/London")

TRIAL: dict[str, Any] = {
    "id": "paper-or-bare",
    "title": "Paper or bare",
    "question": "Does wrapping in paper at the stall keep more of a pork shoulder?",
    "invented": True,
    "differs": "wrap from the stall on",
    "protocol": {
        "stages": [
            {
                "id": "smoke",
                "name": "Smoke",
                "surround": "250 °F",
                "humidity": "water pan",
                "ends": [{"core": "71 °C"}, {"elapsed": "9 h"}],
            },
            {
                "id": "finish",
                "name": "Finish",
                "surround": "121 °C",
                "ends": [{"core": "94 °C"}, {"feel": "probe tender"}, {"clock": "06:30"}],
            },
        ]
    },
    "arms": [
        {"id": "bare", "name": "Left bare"},
        {"id": "paper", "name": "Paper", "changes": [{"stage": "finish", "wrap": "paper"}]},
    ],
    "measures": [
        {
            "id": "yield",
            "name": "Yield",
            "kind": "yield",
            "better": "higher",
            "worthwhile": "2 points",
        },
        {
            "id": "bark",
            "name": "Bark",
            "kind": "score",
            "better": "higher",
            "worthwhile": 1,
            "scale_low": 0,
            "scale_high": 10,
        },
    ],
    "draw": {"how": "drawn", "within": "pair", "seed": 7},
}


def changed(**fields: Any) -> dict[str, Any]:
    return {**TRIAL, **fields}


def test_trial_reads_units_from_text_and_comes_back_the_same() -> None:
    trial = Trial.from_file(TRIAL)
    assert trial.protocol.stages[0].surround_c == pytest.approx(121.111, abs=1e-3)
    assert trial.protocol.stages[0].ends[1].elapsed_s == 9 * 3600
    assert trial.measures[0].worthwhile == 0.02
    assert Trial.from_file(trial.to_file()) == trial
    assert Trial.model_validate(trial.model_dump()) == trial
    assert Trial.model_validate_json(trial.model_dump_json()) == trial


def test_an_arm_is_a_change_to_the_shared_protocol() -> None:
    trial = Trial.from_file(TRIAL)
    bare, paper = trial.protocol_of("bare"), trial.protocol_of("paper")
    assert bare == trial.protocol
    assert paper.stages[0] == bare.stages[0]
    assert paper.stages[1].wrap == Wrap(above=Cover.PAPER, below=Cover.PAPER)
    assert paper.stages[1].ends == bare.stages[1].ends


def test_stages_can_be_added_and_left_out() -> None:
    protocol = Trial.from_file(TRIAL).protocol
    rest = Stage(id="rest", name="Rest", ends=(EndCondition(elapsed_s=3600.0),))
    longer = protocol.changed_by((StageChange(stage="finish", put_after=rest),))
    assert [stage.id for stage in longer.stages] == ["smoke", "finish", "rest"]
    shorter = protocol.changed_by((StageChange(stage="smoke", leave_out=True),))
    assert [stage.id for stage in shorter.stages] == ["finish"]
    with pytest.raises(ValueError, match="no stage 'braise'"):
        protocol.changed_by((StageChange(stage="braise", leave_out=True),))


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (changed(arms=TRIAL["arms"][:1]), "at least 2"),
        (changed(arms=[TRIAL["arms"][0]] * 2), "two arms are called 'bare'"),
        (
            changed(
                arms=[
                    TRIAL["arms"][0],
                    {"id": "x", "name": "X", "changes": [{"stage": "boil", "leave_out": True}]},
                ]
            ),
            "arm 'x': there is no stage 'boil'",
        ),
        (changed(surprise=1), "surprise"),
        (
            changed(measures=[{**TRIAL["measures"][0], "worthwhile": 2}]),
            "write '2 points'",
        ),
        (
            changed(measures=[{**TRIAL["measures"][0], "worthwhile": "2 kg"}]),
            "is not a difference of yields",
        ),
        (changed(measures=[{**TRIAL["measures"][1], "scale_high": None}]), "scale_low"),
        (changed(measures=[{**TRIAL["measures"][1], "worthwhile": 11}]), "larger than the whole"),
    ],
)
def test_what_makes_no_trial_is_refused(content: dict[str, Any], message: str) -> None:
    with pytest.raises(ValidationError, match=message):
        Trial.from_file(content)


def test_a_bare_number_in_a_file_is_ambiguous() -> None:
    with pytest.raises(ValidationError, match="no unit"):
        Stage.from_file({"id": "a", "name": "A", "surround": 250, "ends": [{"core": "70 °C"}]})
    assert EndCondition(core_c=70.0).core_c == 70.0


def test_whichever_comes_first_needs_one_condition_each() -> None:
    with pytest.raises(ValidationError, match="exactly one"):
        EndCondition(core_c=70.0, elapsed_s=60.0)
    with pytest.raises(ValidationError, match="exactly one"):
        EndCondition()


@pytest.mark.parametrize(
    ("text", "kind", "label"),
    [
        ("trimmed meat", PartKind.MEAT, "trimmed"),
        ("  Green  TRAY ", PartKind.TRAY, "green"),
        ("clinging fat", PartKind.CLINGING_FAT, ""),
        ("used wrap", PartKind.WRAP, "used"),
        ("second added liquid", PartKind.ADDED_LIQUID, "second"),
    ],
)
def test_parts_are_read_as_people_write_them(text: str, kind: PartKind, label: str) -> None:
    part = Part.parse(text)
    assert (part.kind, part.label) == (kind, label)
    assert Part.parse(part.text) == part


def test_parts_that_are_none() -> None:
    with pytest.raises(ValueError, match="end it with one of"):
        Part.parse("ham sandwich")
    with pytest.raises(ValidationError, match="does not say when"):
        Part.parse("meat")
    assert {f"{state} meat" for state in MeatState} >= {"trimmed meat", "cooked meat"}


def test_a_weighing_keeps_what_was_written() -> None:
    weighing = Weighing.from_file(
        {
            "id": "w1",
            "piece": "p1",
            "scale": "hall",
            "reading": "12 lb 4 oz",
            "sum": ["trimmed meat", "green tray"],
        }
    )
    # International pound of 1959: exactly 0.45359237 kg; 4 oz is a quarter of it.
    assert weighing.reading_kg == pytest.approx(12.25 * 0.45359237, rel=1e-12)
    assert weighing.written == "12 lb 4 oz"
    assert weighing.to_file()["reading"] == "12 lb 4 oz"
    assert "written" not in weighing.to_file()
    assert Weighing.from_file(weighing.to_file()) == weighing


def test_a_sum_may_be_one_text() -> None:
    content = {"id": "w", "piece": "p", "scale": "s", "reading": "1 kg"}
    found = Weighing.from_file({**content, "sum": "trimmed meat + green tray"})
    assert [part.text for part in found.sum] == ["trimmed meat", "green tray"]


def test_what_was_written_cannot_say_something_else() -> None:
    content = {"id": "w", "piece": "p", "scale": "s", "sum": ["trimmed meat"]}
    with pytest.raises(ValidationError, match="make them agree"):
        Weighing.from_file({**content, "reading": "10 lb 2 oz", "written": "10 lb 0.5 oz"})
    # Words that are no mass are a remark and stay.
    kept = Weighing.from_file({**content, "reading": "5 kg", "written": "five, by the hall scale"})
    assert Weighing.from_file(kept.to_file()) == kept


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"sum": []}, "at least 1"),
        ({"sum": ["rub", "rub"]}, "named twice"),
        ({"piece": None}, "only trays"),
        ({"reading": "5.5"}, "unit"),
        ({"reading": "-2 kg"}, "-2 kg"),
    ],
)
def test_weighings_that_make_no_sense(fields: dict[str, Any], message: str) -> None:
    good = {"id": "w", "piece": "p", "scale": "s", "reading": "1 kg", "sum": ["trimmed meat"]}
    Weighing.from_file(good)
    with pytest.raises(ValidationError, match=message):
        Weighing.from_file({**good, **fields})


def test_a_scale_needs_a_resolution() -> None:
    with pytest.raises(ValidationError, match="greater than 0"):
        Scale.from_file({"id": "s", "name": "S", "resolution": "0 g"})


def test_estimates_are_within_limits() -> None:
    good = {"id": "e", "piece": "p", "part": "clinging fat", "why": "seen before"}
    PartEstimate.from_file({**good, "low": "0 g", "high": "60 g"})
    with pytest.raises(ValidationError, match="low must be below high"):
        PartEstimate.from_file({**good, "low": "60 g", "high": "60 g"})
    with pytest.raises(ValidationError, match="needs 'best'"):
        PartEstimate.from_file({**good, "low": "0 g", "high": "60 g", "shape": "triangular"})


def test_clock_times_of_a_cook_are_local() -> None:
    cook = Cook.from_file(
        {
            "id": "c1",
            "name": "Autumn night",
            "time_zone": "Europe/London",
            "starts": "2026-10-24 18:00",
            "ends": "2026-10-25 12:00",
            "cookers": ["barrel"],
        },
        LONDON,
    )
    assert cook.ends is not None
    assert (cook.ends - cook.starts).total_seconds() == 19 * 3600
    assert cook.to_file(LONDON)["starts"] == "2026-10-24 18:00+01:00"
    assert Cook.from_file(cook.to_file(LONDON), LONDON) == cook


def test_events_need_what_their_kind_needs() -> None:
    base = {"id": "e", "cook": "c", "at": "2026-05-02 10:00"}
    with pytest.raises(ValidationError, match="which ones"):
        Event.from_file({**base, "kind": "wrap"}, LONDON)
    with pytest.raises(ValidationError, match="needs 'to'"):
        Event.from_file({**base, "kind": "moved", "pieces": ["p"]}, LONDON)
    with pytest.raises(ValidationError, match="needs 'set'"):
        Event.from_file({**base, "kind": "raise"}, LONDON)
    raised = Event.from_file({**base, "kind": "raise", "set": "300F"}, LONDON)
    assert raised.kind is EventKind.RAISE
    # 300 °F is exactly 148.888… °C: (300 - 32) / 1.8.
    assert raised.set_c == pytest.approx(148.8889, abs=1e-4)


def test_probes_are_somewhere() -> None:
    base = {"id": "m", "cook": "c", "probe": "p", "since": "2026-05-02 10:00"}
    with pytest.raises(ValidationError, match="needs its 'piece'"):
        Placement.from_file({**base, "measures": "core"}, LONDON)
    with pytest.raises(ValidationError, match="in no piece"):
        Placement.from_file({**base, "measures": "pit", "piece": "p1"}, LONDON)
    with pytest.raises(ValidationError, match="end after it starts"):
        Placement.from_file({**base, "measures": "pit", "until": "2026-05-02 09:00"}, LONDON)


def test_a_piece_with_an_arm_needs_its_cook() -> None:
    with pytest.raises(ValidationError, match="needs the cook"):
        Piece(id="p", name="P", cut="shoulder", species="pork", arm="bare")


def test_ballots_answer_something_presented() -> None:
    base = {"id": "b", "taster": "t", "cook": "c", "measure": "bark"}
    with pytest.raises(ValidationError, match="needs 'scores' or 'chosen'"):
        Ballot.from_file(base)
    with pytest.raises(ValidationError, match="not among those presented"):
        Ballot.from_file({**base, "presented": ["s1"], "chosen": "s2"})
    with pytest.raises(ValidationError, match="scored twice"):
        Ballot.from_file(
            {**base, "scores": [{"sample": "s1", "value": 3}, {"sample": "s1", "value": 4}]}
        )


def test_exclusions_name_one_thing() -> None:
    with pytest.raises(ValidationError, match="either a piece or a probe"):
        Exclusion(id="x", why="dropped on the grass")
    with pytest.raises(ValidationError, match="needs 'cook', 'since' and 'until'"):
        Exclusion(id="x", why="fell out", probe="p")


def test_a_registration_is_bound_to_its_digest() -> None:
    plan = canonical_form({"b": 1, "a": "°F"})
    assert plan == '{"a":"°F","b":1}'
    assert digest_of(plan) == hashlib.sha256(plan.encode()).hexdigest()
    # FIPS 180-4 test vector "abc" (NIST CSRC examples).
    assert digest_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    with pytest.raises(ValidationError, match="altered"):
        Registration.from_file({"at": "2026-05-01 10:00", "plan": plan, "digest": "0" * 64}, LONDON)


def readings(times: list[int], raw: list[int], unit: str = "degC", decimals: int = 1) -> Readings:
    return Readings(
        np.array(times, dtype=np.int64),
        np.array(raw, dtype=np.int64),
        decimals,
        unit,  # type: ignore[arg-type]
        np.zeros(len(times), dtype=np.uint8),
    )


def test_readings_convert_by_the_exact_definition() -> None:
    # °C = (°F - 32) / 1.8 and K - 273.15, NIST SP 811 appendix B.8.
    np.testing.assert_allclose(readings([0], [2500], "degF").value_c, [121.11111111], rtol=1e-9)
    np.testing.assert_allclose(readings([0], [3941], "K").value_c, [120.95], rtol=1e-12)
    assert readings([0], [1211]).value_c.tolist() == [121.1]


def test_flagged_readings_are_kept_but_not_believed() -> None:
    flags = np.array([0, Flag.JUMP, Flag.GAP_BEFORE], dtype=np.uint8)
    flagged = readings([0, 1, 2], [1, 2, 3]).with_flags(flags)
    assert len(flagged) == 3
    assert flagged.believed.tolist() == [True, False, True]


def test_readings_join_in_order_without_losing_digits() -> None:
    joined = Readings.joined([readings([2, 4], [20, 40]), readings([1, 3], [111, 333], decimals=2)])
    assert joined.time_ms.tolist() == [1, 2, 3, 4]
    assert joined.value.tolist() == [1.11, 2.0, 3.33, 4.0]
    with pytest.raises(ValueError, match="different units"):
        Readings.joined([readings([1], [1]), readings([2], [2], "degF")])
    with pytest.raises(ValueError, match="order of time"):
        readings([2, 1], [1, 1])


@pytest.mark.parametrize("name", ["Shoulder\x00 1", "a\x1b[31mb", "a\ud800"])
def test_names_hold_no_control_characters(name: str) -> None:
    with pytest.raises(ValidationError, match=r"control character|unicode"):
        Piece(id="p", name=name, cut="shoulder", species="pork")
    assert Piece(id="p", name="Épaule ½", cut="shoulder", species="pork").name == "Épaule ½"


def test_protocol_needs_stages() -> None:
    with pytest.raises(ValidationError, match="at least 1"):
        Protocol(stages=())


def test_measure_of_time_reads_durations() -> None:
    measure = Measure.from_file(
        {
            "id": "t",
            "name": "T",
            "kind": "cook time",
            "better": "lower",
            "worthwhile": "45 min",
        }
    )
    assert measure.worthwhile == 2700
    assert Measure.from_file(measure.to_file()) == measure
