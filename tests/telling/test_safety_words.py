"""The figures that a warning about a plan names: the right ones, rounded to the safe side or not.

Limits by value: tests/published/test_safety_limits.py.
"""

import math

import pytest

from fairsmoke.planning.day.safety import NoteCode, SafetyNote
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.telling.safety_notes import gathered, note_words, stage_words

H = 3600.0
INF = math.inf
COMING = {"took_s": 5.26 * H, "limit_s": 6 * H, "over": 0.104, "pierced": 0.0}
KILLED = {"share": 0.4567, "hottest_c": 61.2, "logs": 9.0, "margin_k": 1.0}
HELD = {"air_c": 66.0, "core_c": 63.0}


def note(code: NoteCode, piece: str = "One", warns: bool = True, **figures: object) -> SafetyNote:
    return SafetyNote(piece, "Smoke", warns, code, figures, "a table")  # type: ignore[arg-type]


def words(one: SafetyNote) -> list[str]:
    return [ENGLISH.say(part) for part in note_words(one)]


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (
            note("come-up", **COMING),
            [["up to 5.3 h", "from 10 °C to 54.4 °C", "told is 6 h", "10 of 100 draws"]],
        ),
        (
            note("come-up", **COMING | {"took_s": INF, "over": 1.0, "pierced": 1.0}),
            [["up to never", "100 of 100 draws"], ["injected or pierced"]],
        ),
        (note("growth", warm_s=4.44 * H), [["between 4 °C and 60 °C", "up to 4.4 h"]]),
        (note("growth", warm_s=H, grown=0.0), [["up to 1.0 h"], ["up to 0.0 tenfold"]]),
        (note("growth", warm_s=H, grown=2.0), [["up to 1.0 h"], ["up to 2.0 tenfold"]]),
        (note("other table", species="poultry"), [["does not hold for poultry"]]),
        (
            note("killing", **KILLED),
            [
                ["with 1.0 °C taken off", "earns 0.46 of the time", "hottest 61 °C"],
                ["9.0 log of Salmonella"],
                ["never undoes a toxin"],
            ],
        ),
        (note("killing", **KILLED | {"share": 0.0}), [["earns 0 of"], ["9.0 log"], ["toxin"]]),
        (note("killing", **KILLED | {"share": 0.0123}), [["earns 0.012 of"], ["9.0 log"], ["toxin"]]),
        (note("killing", **KILLED | {"share": 123.4}), [["earns 123 of"], ["9.0 log"], ["toxin"]]),
        (note("killing", **KILLED | {"share": 1.0}), [["earns 1.0 of"], ["9.0 log"], ["toxin"]]),
        (
            note("killing", **KILLED | {"share": INF, "logs": 12.1}),
            [["passes 70 °C with 1.0 °C taken off"], ["more than 12 log"], ["toxin"]],
        ),
        (note("killing", **KILLED | {"logs": 12.0}), [["0.46"], [": 12.0 log"], ["toxin"]]),
        (
            note("oven", air_c=107.0, mass_kg=4.2, least_c=177.0),
            [["air of 107", "4.2 kg", "177", "90 % humidity"]],
        ),
        (note("hold unknown"), [["no temperature is given"]]),
        (
            note("hold below all", **HELD),
            [["air of 66", "core 63", "95 of 100 draws"], ["below every published limit"]],
        ),
        (note("hold below 57", **HELD), [["core 63"], ["below the usual 57 °C"]]),
        (note("hold below 60", **HELD), [["core 63"], ["below the careful 60 °C"]]),
        (note("hold above 60", **HELD), [["core 63"], ["above the careful 60 °C"]]),
        (
            note("hold above 60", **HELD | {"core_c": math.nan}),
            [["air of 66"], ["above the careful 60 °C"]],
        ),
        (
            note("standing", stands_s=4.5 * H, within_s=4 * H),
            [["up to 4.5 h without heat", "4 h at the most", "at 57 °C"]],
        ),
        (
            note("left over", first_s=1.5 * H, last_s=7 * H, slow=1.0),
            [
                [
                    "fridge at 4 °C", "take 1.5 h from 57 °C to 21 °C and 7.0 h to 5 °C",
                    "told are 2 h, and 6 h in all",
                ],
                ["cut and spread"],
            ],
        ),
        (
            note("left over", first_s=1.5 * H, last_s=INF, slow=0.0),
            [["take 1.5 h", "more than two days to 5 °C"]],
        ),
        (
            note("left over unknown"),
            [["from 57 °C to 21 °C within 2 h and to 5 °C within 6 h in all"]],
        ),
    ],
)  # fmt: skip
def test_a_note_names_its_figures(one: SafetyNote, said: list[list[str]]) -> None:
    found = words(one)
    assert len(found) == len(said), found
    for sentence, fragments in zip(found, said, strict=True):
        for fragment in fragments:
            assert fragment in sentence
        assert "%(" not in sentence


def test_notes_that_say_the_same_are_told_once_warnings_first() -> None:
    calm = note("hold above 60", warns=False, **HELD)
    cold, other = note("hold below 57", **HELD), note("hold below 57", "Two", **HELD)
    colder = note("hold below 57", "Three", **HELD | {"core_c": 55.0})
    assert gathered([calm, cold, other, colder]) == [
        (cold, ["One", "Two"]),
        (colder, ["Three"]),
        (calm, ["One"]),
    ]


@pytest.mark.parametrize(
    ("stage", "said"), [("Smoke", "Smoke"), ("hold", "hold"), ("left over", "left over")]
)
def test_a_stage_is_the_protocols_own_or_ours(stage: str, said: str) -> None:
    one = SafetyNote("One", stage, True, "hold unknown", {}, "a table")
    assert ENGLISH.say(stage_words(one)) == said
