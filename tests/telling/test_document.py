"""One document on every face: kept as JSON, said in every language, unit system and clock."""

import json
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from fairsmoke.messages.message import N_, NN_, InputField, Listed, Message
from fairsmoke.quantity import METRIC, US
from fairsmoke.quantity.values import (
    Duration,
    Instant,
    Length,
    Mass,
    Number,
    Share,
    Temperature,
    TemperatureDifference,
)
from fairsmoke.telling.as_text import document_text
from fairsmoke.telling.blocks import Column, Section, items, table, text
from fairsmoke.telling.document import from_json, said, to_json
from fairsmoke.telling.reader import Reader

LONDON = ZoneInfo("Europe/London")
ENGLISH = Reader(METRIC, "en", "24", LONDON)
AMERICAN = Reader(US, "en", "12", LONDON)
GERMAN = Reader(METRIC, "de", "24", LONDON)
NOON = datetime(2026, 5, 3, 12, 0, tzinfo=UTC)


def everything() -> list[Section]:
    message = N_(
        "%(core)s, %(rise)s, %(mass)s, %(length)s, %(time)s, %(share)s, %(number)s, %(at)s",
        core=Temperature(94.0),
        rise=TemperatureDifference(5.0, 0, sign=True),
        mass=Mass(0.5),
        length=Length(0.0254),
        time=Duration(5400.0),
        share=Share(0.5, 0),
        number=Number(-2.5),
        at=Instant(NOON, "day time"),
    )
    listed = Listed((N_("Serve"), "ribs"), "and")
    return [
        Section(
            N_("Serve"),
            [
                text(message),
                items([listed]),
                table([Column("a"), Column("b", "right")], [["1", "2 kg"]]),
            ],
        )
    ]


def test_a_document_comes_back_from_json_and_says_the_same() -> None:
    kept = json.loads(json.dumps(to_json(everything())))
    for reader in (ENGLISH, AMERICAN, GERMAN):
        assert said(from_json(kept), reader) == said(everything(), reader)


def test_values_are_said_in_the_readers_units_clock_and_language() -> None:
    shown = {
        reader: said(everything(), reader)[0]["blocks"][0]["text"].replace("\u00a0", " ")
        for reader in (ENGLISH, AMERICAN, GERMAN)
    }
    # One inch and a half kilogram by definition; BST is an hour ahead of UTC in May (IANA).
    assert shown[ENGLISH].startswith(
        "94 °C, +5 °C, 0.500 kg, 2.5 cm, 1 h 30 min, 50 %, −2.5, Sun 13:00"
    )
    assert shown[AMERICAN].startswith(
        "201 °F, +9 °F, 1 lb 1.6 oz, 1.00 in, 1 h 30 min, 50 %, −2.5, Sun"
    )
    assert "0,500 kg" in shown[GERMAN]
    assert "−2,5" in shown[GERMAN]


def test_the_count_chooses_the_form() -> None:
    one, two = (NN_("%(count)s piece", "%(count)s pieces", n) for n in (1, 2))
    assert (ENGLISH.say(one), ENGLISH.say(two)) == ("1 piece", "2 pieces")


def test_a_field_is_named_as_its_face_names_it() -> None:
    message = N_("say %(field)s", field=InputField("not_before"))
    shell = Reader(METRIC, "en", "24", LONDON, face="shell")
    assert shell.say(message) == "say --not-before"
    assert "--" not in ENGLISH.say(message)


def test_text_for_a_terminal_keeps_tables_and_lists_in_columns() -> None:
    lines = document_text(everything(), ENGLISH).splitlines()
    assert lines[0] == "SERVE"
    assert max(len(line) for line in lines) <= 80
    assert any(line.split() == ["1", "2", "kg"] for line in lines)


def test_what_a_document_never_holds_is_refused() -> None:
    with pytest.raises(ValueError, match="never holds"):
        from_json({"$": "Path", "name": "x"})


def test_an_unknown_language_reads_english() -> None:
    assert Message("Serve").english == "Serve"
