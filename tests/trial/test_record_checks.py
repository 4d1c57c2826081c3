"""Every check that spans several records: each fault alone, told once, and its sound neighbour."""

from dataclasses import replace
from datetime import timedelta

import pytest
from tests.judging.records import LIKING, SHEAR, TIME, YIELD, record_of, weighed

from fairsmoke.trial.base import Record
from fairsmoke.trial.cook import Cooker, Event, EventKind, Position, Spot
from fairsmoke.trial.figure import Exclusion, Figure
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.question import Draw
from fairsmoke.trial.tasting import Ballot, Sample, Score, Taster
from fairsmoke.trial.weighing import Part, PartEstimate, Scale

MEASURES = (YIELD, SHEAR, LIKING, TIME)
BARE = record_of([(0.58, 0.61), (0.57, 0.6)], MEASURES)
COOK = BARE.cooks[0]
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LEFT = Spot(cooker="barrel", position="left")
NOWHERE = Spot(cooker="barrel", position="roof")


def event(handle: str = "on", **more: object) -> Event:
    base = {"id": handle, "cook": "c0", "at": COOK.starts, "kind": EventKind.NOTE}
    return Event.model_validate(base | more)


def done(handle: str, kind: EventKind, hours: float) -> Event:
    at = COOK.starts + timedelta(hours=hours)
    return event(handle, kind=kind, at=at, pieces=("c0-bare",))


def stay(handle: str = "m", since: float = 0, until: float | None = 2, **more: object) -> Placement:
    base = {
        "id": handle,
        "cook": "c0",
        "probe": "needle",
        "since": COOK.starts + timedelta(hours=since),
        "until": None if until is None else COOK.starts + timedelta(hours=until),
        "measures": "core",
        "piece": "c0-bare",
    }
    return Placement.model_validate(base | more)


def guess(part: str, piece: str | None = "c0-bare") -> PartEstimate:
    return PartEstimate(
        id="guess", piece=piece, part=Part.parse(part), low_kg=0.0, high_kg=9.0, why="by eye"
    )


def ballot(handle: str = "b", **more: object) -> Ballot:
    base = {
        "id": handle,
        "taster": "ann",
        "cook": "c0",
        "measure": "liking",
        "scores": (Score(sample="s1", value=7.0),),
    }
    return Ballot.model_validate(base | more)


def sample(handle: str, piece: str, code: int | None) -> Sample:
    return Sample(id=handle, piece=piece, code=code)


SAMPLES = (sample("s1", "c0-bare", 111), sample("s2", "c0-paper", 222))
SOUND = replace(
    BARE,
    trial=BARE.trial.model_copy(update={"draw": Draw(how="drawn", within="pair")}),
    probes=(Probe(id="needle", name="Needle"),),
    tasters=(Taster(id="ann", name="Ann"),),
    placements=(stay(),),
    events=(done("on", EventKind.ON, 0), done("off", EventKind.PULL, 9)),
    samples=SAMPLES,
    ballots=(ballot(),),
    figures=(Figure(id="f", piece="c0-bare", measure="shear", value=4.0),),
    exclusions=(Exclusion(id="x", why="dropped", piece="c1-bare", measure="shear"),),
)


def told(**changes: object) -> list[str]:
    return [str(one) for one in replace(SOUND, **changes).problems()]  # type: ignore[arg-type]


def added(kind: str, one: Record) -> list[str]:
    return told(**{kind: (*getattr(SOUND, kind), one)})


def changed(kind: str, handle: str, **update: object) -> list[str]:
    records = tuple(
        one.model_copy(update=update) if one.id == handle else one for one in getattr(SOUND, kind)
    )
    return told(**{kind: records})


def test_a_sound_record_is_told_nothing() -> None:
    assert told() == []


@pytest.mark.parametrize(
    "kind",
    [
        "cookers", "scales", "probes", "tasters", "cooks", "pieces", "placements", "events",
        "weighings", "samples", "ballots", "figures", "exclusions", "estimates", "sources",
    ],
)  # fmt: skip
def test_a_handle_stands_for_one_record(kind: str) -> None:
    if kind in ("estimates", "sources"):
        one = guess("clinging fat")
        records: tuple[Record, ...] = (one, one.model_copy())
    else:
        first = getattr(SOUND, kind)[0]
        records = (*getattr(SOUND, kind), first)
    again = [text for text in told(**{kind: records}) if "two records of the kind" in text]
    assert len(again) == 1
    assert f"'{records[-1].model_dump()['id']}'" in again[0]


@pytest.mark.parametrize(
    ("kind", "handle", "update", "place", "what"),
    [
        ("pieces", "c1-bare", {"cook": "c9"}, "piece 'c1-bare'", "cook 'c9'"),
        ("pieces", "c1-bare", {"arm": "foil"}, "piece 'c1-bare'", "arm 'foil'"),
        ("pieces", "c1-bare", {"half_of": "whole"}, "piece 'c1-bare'", "piece 'whole'"),
        ("pieces", "c1-bare", {"spot": NOWHERE}, "piece 'c1-bare'", "position 'barrel/roof'"),
        ("cooks", "c1", {"cookers": ("barrel", "drum")}, "cook 'c1'", "cooker 'drum'"),
        ("events", "on", {"cooker": "drum"}, "event 'on'", "cooker 'drum'"),
        ("events", "on", {"probe": "other"}, "event 'on'", "probe 'other'"),
        ("events", "on", {"to": NOWHERE}, "event 'on'", "position 'barrel/roof'"),
        ("events", "on", {"pieces": ("ghost",)}, "event 'on'", "piece 'ghost'"),
        ("placements", "m", {"probe": "other"}, "placement 'm'", "probe 'other'"),
        ("placements", "m", {"piece": "ghost"}, "placement 'm'", "piece 'ghost'"),
        ("placements", "m", {"spot": NOWHERE}, "placement 'm'", "position 'barrel/roof'"),
        ("weighings", "c0-bare-cooked", {"scale": "other"}, "'c0-bare-cooked'", "scale 'other'"),
        ("weighings", "c0-bare-cooked", {"piece": "ghost"}, "'c0-bare-cooked'", "piece 'ghost'"),
        ("weighings", "c0-bare-cooked", {"cook": "c9"}, "'c0-bare-cooked'", "cook 'c9'"),
        ("samples", "s2", {"piece": "ghost"}, "sample 's2'", "piece 'ghost'"),
        ("ballots", "b", {"taster": "bob"}, "ballot 'b'", "taster 'bob'"),
        ("ballots", "b", {"measure": "joy"}, "ballot 'b'", "measure 'joy'"),
        ("ballots", "b", {"scores": (Score(sample="s9", value=7),)}, "ballot 'b'", "sample 's9'"),
        ("figures", "f", {"piece": "ghost"}, "figure 'f'", "piece 'ghost'"),
        ("figures", "f", {"measure": "joy"}, "figure 'f'", "measure 'joy'"),
        ("exclusions", "x", {"piece": "ghost"}, "exclusion 'x'", "piece 'ghost'"),
        ("exclusions", "x", {"measure": "joy"}, "exclusion 'x'", "measure 'joy'"),
        ("exclusions", "x", {"probe": "other"}, "exclusion 'x'", "probe 'other'"),
        ("exclusions", "x", {"cook": "c9"}, "exclusion 'x'", "cook 'c9'"),
    ],
)
def test_what_is_named_must_be_recorded(
    kind: str, handle: str, update: dict[str, object], place: str, what: str
) -> None:
    (one,) = changed(kind, handle, **update)
    assert place in one
    assert f"there is no {what} (known: " in one


def test_what_names_a_cook_that_was_not_recorded() -> None:
    # The piece of another cook is told beside it.
    (event_told, _) = changed("events", "on", cook="c9")
    assert "event 'on': there is no cook 'c9' (known: c0, c1)" in event_told
    (stay_told, _) = changed("placements", "m", cook="c9")
    assert "placement 'm': there is no cook 'c9'" in stay_told
    (ballot_told, _) = changed("ballots", "b", cook="c9")
    assert "ballot 'b': there is no cook 'c9'" in ballot_told
    (guess_told,) = added("estimates", guess("clinging fat", "ghost"))
    assert "estimate 'guess': there is no piece 'ghost'" in guess_told
    assert any("(known: none recorded yet)" in one for one in told(tasters=()))


@pytest.mark.parametrize("cooker", ["drum", "barrel"])
def test_a_piece_lies_in_a_cooker_of_its_cook(cooker: str) -> None:
    drum = Cooker(id="drum", name="Drum", positions=(Position(id="left", name="left"),))
    pieces = tuple(
        p.model_copy(update={"spot": Spot(cooker=cooker, position="left")})
        if p.id == "c0-bare"
        else p
        for p in SOUND.pieces
    )
    found = told(cookers=(*SOUND.cookers, drum), pieces=pieces)
    wanted = ["piece 'c0-bare': cooker 'drum' is not part of cook 'c0'"]
    assert found == (wanted if cooker == "drum" else [])


def test_a_piece_without_a_cook_may_lie_anywhere() -> None:
    # One that was only bought so far.
    raw = SOUND.pieces[0].model_copy(
        update={"id": "raw", "arm": None, "pair": None, "cook": None, "spot": LEFT}
    )
    assert added("pieces", raw) == []


def test_a_whole_that_was_cut_up_has_no_arm() -> None:
    (one,) = changed("pieces", "c1-bare", half_of="c0-bare")
    assert one.startswith("piece 'c1-bare': its whole 'c0-bare' was cut up")
    whole = SOUND.pieces[0].model_copy(
        update={"id": "whole", "arm": None, "pair": None, "spot": None}
    )
    half = SOUND.pieces[1].model_copy(update={"half_of": "whole"})
    assert told(pieces=(SOUND.pieces[0], half, *SOUND.pieces[2:], whole)) == []


def test_arms_drawn_within_pairs_need_the_pair() -> None:
    (one,) = changed("pieces", "c1-bare", pair=None)
    assert one == "piece 'c1-bare': arms were drawn within pairs, so it needs 'pair'"
    free = SOUND.trial.model_copy(update={"draw": Draw(how="drawn", within="cook")})
    pieces = tuple(p.model_copy(update={"pair": None}) for p in SOUND.pieces)
    assert told(trial=free, pieces=pieces) == []


@pytest.mark.parametrize(
    ("at", "fault"),
    [
        (COOK.starts - DAY, None),
        (COOK.starts - DAY - timedelta(seconds=1), "more than a day before cook 'c0' started"),
        (COOK.starts + 20 * HOUR, None),
        (COOK.starts + 20 * HOUR + timedelta(seconds=1), "after cook 'c0' ended"),
    ],
)
@pytest.mark.parametrize("ended", [True, False])
def test_what_happened_lies_in_its_cook(at: object, fault: str | None, ended: bool) -> None:
    ends = COOK.starts + 20 * HOUR if ended else None
    cooks = (COOK.model_copy(update={"ends": ends}), *SOUND.cooks[1:])
    found = told(cooks=cooks, events=(*SOUND.events, event("note", at=at)))
    expected = fault is not None and (ended or "ended" not in fault)
    assert len(found) == int(expected)
    if expected:
        assert found[0].startswith("event 'note': it happened ")
        assert str(fault) in found[0]


def test_an_event_names_the_pieces_of_its_own_cook() -> None:
    (one,) = added("events", event("note", pieces=("c0-bare", "c1-paper")))
    assert one == "event 'note': piece 'c1-paper' is in cook 'c1', not 'c0'"


@pytest.mark.parametrize(
    ("happenings", "fault"),
    [
        ((("on", 1), ("off", 0.9)), "pulled (off) before it went on (on)"),
        ((("on", 1), ("off", 1)), "pulled (off) before it went on (on)"),
        ((("on", 1), ("off", 1.1)), None),
        # The first time on and the last one off are what counts: in between it may come and go.
        ((("on", 1), ("off", 0.5), ("on2", 3), ("off2", 4)), None),
        ((("on", 1), ("on2", 3), ("off", 2)), None),
        ((("on", 1),), None),
        ((("off", 1),), None),
    ],
)
def test_a_piece_is_pulled_after_it_went_on(
    happenings: tuple[tuple[str, float], ...], fault: str | None
) -> None:
    events = tuple(
        done(handle, EventKind.ON if handle.startswith("on") else EventKind.PULL, hours)
        for handle, hours in happenings
    )
    found = told(events=events)
    assert len(found) == int(fault is not None)
    if fault is not None:
        assert found[0].startswith(f"piece 'c0-bare': {fault}")


def test_a_probe_is_in_a_piece_of_its_cook() -> None:
    (one,) = changed("placements", "m", piece="c1-bare")
    assert one.startswith("placement 'm': piece 'c1-bare' is in cook 'c1', not 'c0'")
    raw = SOUND.pieces[0].model_copy(
        update={"id": "raw", "arm": None, "pair": None, "cook": None, "spot": None}
    )
    stays = (stay(piece="raw"),)
    assert told(pieces=(*SOUND.pieces, raw), placements=stays) == []


@pytest.mark.parametrize(
    ("stays", "fault"),
    [
        ((stay("a", 0, 2), stay("b", 2, 3)), None),
        ((stay("a", 0, 2), stay("b", 1.9, 3)), "'b': probe 'needle' was then still in 'a'"),
        ((stay("a", 0, None), stay("b", 2, 3)), "'b': probe 'needle' was then still in 'a'"),
        # However they were written down.
        ((stay("b", 2, 3), stay("a", 0, 2)), None),
        ((stay("b", 1, None), stay("a", 0, 2)), "'b': probe 'needle' was then still in 'a'"),
        ((stay("a", 0, 1), stay("b", 2, None)), None),
        ((stay("a", 0, 2), stay("b", 1, 3, probe="other")), None),
        ((stay("a", 0, 2), stay("b", 1, 3, cook="c1", piece="c1-bare")), None),
    ],
)
def test_a_probe_is_in_one_place_at_a_time(stays: tuple[Placement, ...], fault: str | None) -> None:
    other = Probe(id="other", name="Other")
    found = told(probes=(*SOUND.probes, other), placements=stays)
    assert len(found) == int(fault is not None)
    if fault is not None:
        assert fault in found[0]


TRAY_AND_MEAT = weighed("c1-bare", "held", 4.1).model_copy(
    update={"id": "together", "sum": (Part.parse("first tray"), Part.parse("held meat"))}
)
TRAY_ALONE = weighed("c1-bare", "held", 0.4).model_copy(
    update={"id": "alone", "sum": (Part.parse("first tray"),)}
)


@pytest.mark.parametrize(
    ("weighing", "estimate", "alone"),
    [
        # The same part of the same piece: its weighing is what counts.
        (None, guess("cooked meat"), "c0-bare-cooked"),
        (None, guess("bought meat"), None),
        # Another piece's meat is another part, a tray is one and the same for all.
        (TRAY_AND_MEAT, guess("held meat"), None),
        (TRAY_AND_MEAT, guess("held meat", "c1-bare"), None),
        (TRAY_AND_MEAT, guess("first tray", None), None),
        (TRAY_ALONE, guess("first tray", None), "alone"),
        (TRAY_ALONE, guess("first tray"), "alone"),
        (TRAY_ALONE, guess("second tray"), None),
    ],
)
def test_what_was_weighed_alone_is_not_estimated(
    weighing: Record | None, estimate: PartEstimate, alone: str | None
) -> None:
    more = () if weighing is None else (weighing,)
    found = told(weighings=(*SOUND.weighings, *more), estimates=(estimate,))
    assert len(found) == int(alone is not None)
    if alone is not None:
        assert found[0].startswith(f"estimate 'guess': {estimate.part.text} was also weighed alone")
        assert f"('{alone}')" in found[0]


def scored(value: float, measure: str = "liking") -> Ballot:
    return ballot(measure=measure, scores=(Score(sample="s1", value=value),))


@pytest.mark.parametrize(
    ("value", "measure", "off"),
    [
        (0.0, "liking", False),
        (10.0, "liking", False),
        (-0.1, "liking", True),
        (10.1, "liking", True),
        (99.0, "shear", False),
    ],
)
def test_a_score_lies_on_the_scale_of_its_measure(value: float, measure: str, off: bool) -> None:
    found = told(ballots=(scored(value, measure),))
    wanted = [f"ballot 'b': {value:g} for 's1' is off the scale of 0 to 10"]
    assert found == (wanted if off else [])


def test_every_score_of_a_ballot_is_looked_at() -> None:
    both = (Score(sample="s1", value=11.0), Score(sample="s2", value=12.0))
    assert len(told(ballots=(ballot(scores=both), ballot("b2", scores=both)))) == 4


def test_a_sample_is_scored_in_the_cook_of_its_piece() -> None:
    (one,) = changed("ballots", "b", cook="c1")
    assert one.startswith("ballot 'b': sample 's1' is of piece 'c0-bare' in cook 'c0', not 'c1'")
    # Bought ready for comparison: it was in no cook of this trial.
    raw = SOUND.pieces[0].model_copy(
        update={"id": "raw", "arm": None, "pair": None, "cook": None, "spot": None}
    )
    samples = (sample("s1", "raw", 111), SAMPLES[1])
    assert told(pieces=(*SOUND.pieces, raw), samples=samples) == []


# One code stands for one piece, among what was handed out together.


def codes(second: Sample, *ballots: Ballot) -> list[str]:
    return told(samples=(SAMPLES[0], second), ballots=ballots)


HANDED = ballot(presented=("s1", "s2"))
SHEAR_ONLY = ballot("b2", measure="shear", scores=(Score(sample="s2", value=1.0),))


@pytest.mark.parametrize(
    ("second", "ballots", "clash"),
    [
        (sample("s2", "c0-paper", 111), (HANDED,), True),
        (sample("s2", "c0-paper", 112), (HANDED,), False),
        (sample("s2", "c0-paper", None), (HANDED,), False),
        # Two samples of one piece may carry its code.
        (sample("s2", "c0-bare", 111), (HANDED,), False),
        # Whether a sample was scored or only handed out.
        (sample("s2", "c0-paper", 111), (ballot(), ballot("b2", presented=("s1", "s2"))), True),
        # What was never handed out for the same measure was never mixed up.
        (sample("s2", "c0-paper", 111), (ballot(),), False),
        (sample("s2", "c0-paper", 111), (ballot(), SHEAR_ONLY), False),
        # Another day's code is another code.
        (
            sample("s2", "c1-bare", 111),
            (ballot(), ballot("b2", cook="c1", scores=(Score(sample="s2", value=1.0),))),
            False,
        ),
    ],
)
def test_a_code_stands_for_one_piece(
    second: Sample, ballots: tuple[Ballot, ...], clash: bool
) -> None:
    found = codes(second, *ballots)
    assert len(found) == int(clash)
    if clash:
        assert found[0].startswith(
            "samples 's1' and 's2': both carried code 111 in cook 'c0' but are of different pieces"
        )


def test_a_code_used_twice_for_two_measures_is_told_once() -> None:
    again = ballot("b2", measure="shear", presented=("s1", "s2"))
    assert len(codes(sample("s2", "c0-paper", 111), HANDED, again)) == 1
    third = sample("s3", "c0-paper", 111)
    # Two pairs of three clash: those of different pieces.
    samples = (SAMPLES[0], sample("s2", "c0-paper", 111), third)
    ballots = (ballot(presented=("s1", "s2", "s3")),)
    assert len(told(samples=samples, ballots=ballots)) == 2


def test_a_scale_is_needed_by_what_was_weighed() -> None:
    assert len(told(scales=())) == len(SOUND.weighings)
    spare = Scale(id="spare", name="Spare", resolution_kg=0.001)
    assert added("scales", spare) == []
