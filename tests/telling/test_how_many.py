"""How many, told: words, columns, JSON that programs can read, a chart that draws."""

import json
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from tests.telling.german import untranslated

from fairsmoke.planning.panels.sizes import size_for_difference, size_for_likeness
from fairsmoke.planning.size.cost import Prices
from fairsmoke.planning.size.how_many import HowMany, Means, Panel, how_many
from fairsmoke.planning.size.repeats import Block
from fairsmoke.quantity import METRIC
from fairsmoke.tasting.protocols import TasteTest
from fairsmoke.telling.as_text import document_text
from fairsmoke.telling.chart_style import ChartError
from fairsmoke.telling.document import from_json, to_json
from fairsmoke.telling.how_many import alike, how_many_document, how_many_json, panel_document
from fairsmoke.telling.how_many_chart import write_how_many_chart
from fairsmoke.telling.lines import WIDTH
from fairsmoke.telling.reader import Reader
from fairsmoke.trial.question import Measure

YIELD = Measure.model_validate(
    {"id": "y", "name": "Yield", "kind": "yield", "better": "higher", "worthwhile": "2 points"}
)
LIKING = Measure.model_validate(
    {
        "id": "l",
        "name": "Liking",
        "kind": "score",
        "better": "higher",
        "worthwhile": 0.5,
        "scale_low": 1,
        "scale_high": 9,
    }
)


ENGLISH = Reader(METRIC, "en", "24", ZoneInfo("UTC"), face="shell")
GERMAN = replace(ENGLISH, language="de")


def text_of(found: Sequence[HowMany], asked: int | None = None, reader: Reader = ENGLISH) -> str:
    document = how_many_document(found, asked)
    return document_text([*document.answers, *document.details], reader)


@pytest.fixture(scope="module")
def tables() -> tuple[HowMany, ...]:
    priced = Means(most=6, prices=Prices(60.0, 25.0, None, "€"))
    return how_many(YIELD, priced), how_many(LIKING, Means(most=2, panel=Panel(9)))


def test_text_has_a_row_for_every_number_and_keeps_its_width(tables: tuple[HowMany, ...]) -> None:
    said = text_of(tables)
    assert all(len(line) <= WIDTH for line in said.splitlines())
    rows = [line.split() for line in said.splitlines() if line.endswith("€")]
    assert [[row[0], *row[-4:-2]] for row in rows] == [
        [str(n), str(2 * n), str(n)] for n in range(1, 7)
    ]
    assert rows[-1][-2:] == ["870", "€"]
    assert "Not even 6 pairs" in said
    assert "could never show" in said
    # Of 6 pairs with even sides the draw could give 20 layouts: 2 in 20 at best.
    assert "p = 0.10 is the smallest" in " ".join(said.split())
    assert "is a guess, 15 % of the scale" in " ".join(said.split())
    assert "The cost counts nothing for tasters" in said


def test_sets_of_three_arms_are_not_called_pairs() -> None:
    said = text_of([how_many(YIELD, Means(most=2, block=Block(arms=3)))])
    assert "HOW MANY SETS" in said
    assert "pairs" not in said.lower()


def test_json_holds_the_same_numbers(tables: tuple[HowMany, ...]) -> None:
    told = json.loads(json.dumps(how_many_json(tables), allow_nan=False))
    one = told["measures"][0]
    assert one["size"] == "fraction"
    assert one["unpriced"] == ["sitting"]
    for row, kept in zip(one["rows"], tables[0].rows, strict=True):
        assert row["chances"]["ahead"] == kept.chances.ahead
        assert sum(row["chances"].values()) == pytest.approx(1.0)
        assert row["cost"] == kept.cost


@pytest.mark.parametrize("form", ["svg", "png", "pdf"])
def test_chart_draws(tables: tuple[HowMany, ...], tmp_path: Path, form: str) -> None:
    path = tmp_path / f"many.{form}"
    write_how_many_chart(tables, path, ENGLISH)
    content = path.read_bytes()
    if form == "svg":
        text = " ".join(t.text or "" for t in ET.fromstring(content).iter() if t.text)
        assert "no difference that matters" in text
        assert "4 points" in text
    assert content[:5] in (b"\x89PNG\r", b"%PDF-", b"<svg ")
    with pytest.raises(ChartError):
        write_how_many_chart(tables, tmp_path / "many.gif", ENGLISH)


def test_panels_are_told_with_what_they_risk() -> None:
    size = size_for_difference(TasteTest.TRIANGLE, 0.3, beta=0.05)
    said = document_text(
        panel_document(TasteTest.TRIANGLE, 0.3, size, alike=False, alpha=0.05, beta=0.05), ENGLISH
    )
    assert said.splitlines()[1].strip().startswith("66 answers")
    assert "from 73 on" in " ".join(said.split())
    like = size_for_likeness(TasteTest.DUO_TRIO, 0.3)
    said = document_text(
        panel_document(TasteTest.DUO_TRIO, 0.3, like, alike=True, alpha=0.2, beta=0.05), ENGLISH
    )
    assert "likeness up to" in " ".join(said.split())


def test_the_answer_stands_first_and_the_number_asked_for_is_singled_out(
    tables: tuple[HowMany, ...],
) -> None:
    document = how_many_document(tables, 4)
    first = document.answers[0]
    assert [block["kind"] for block in first.blocks[:2]] == ["strong", "strong"]
    asked = " ".join(document_text([first], ENGLISH).split())
    row = tables[0].rows[3]
    assert "With 4 pairs, as asked" in asked
    assert f"a settled verdict {100 * row.chances.settled:.0f} %" in asked
    assert "for 580 €." in asked  # 8 pieces of 60 and 4 cooks of 25
    assert "→ 4" in asked
    assert "→" not in text_of(tables)


def test_measures_that_differ_in_their_names_alone_are_told_once(
    tables: tuple[HowMany, ...],
) -> None:
    liking = tables[1]
    renamed = liking.measure.model_copy(update={"id": "b", "name": "Bark"})
    both = (*tables, replace(liking, measure=renamed))
    assert [[one.measure.id for one in group] for group in alike(both)] == [["y"], ["l", "b"]]
    said = text_of(both)
    assert "HOW MANY PAIRS: LIKING AND BARK" in said
    assert said.count("Tasters against pieces") == 1


def test_what_is_kept_is_read_back_and_said_to_any_reader(tables: tuple[HowMany, ...]) -> None:
    document = how_many_document(tables, 2)
    sections = [*document.answers, *document.details]
    kept = from_json(json.loads(json.dumps(to_json(sections))))
    assert document_text(kept, ENGLISH) == document_text(sections, ENGLISH)
    assert "0,48" in document_text(kept, GERMAN)


def test_no_english_is_left_in_german(tables: tuple[HowMany, ...]) -> None:
    size = size_for_difference(TasteTest.TRIANGLE, 0.3, beta=0.05)
    panel = panel_document(TasteTest.TRIANGLE, 0.3, size, alike=False, alpha=0.05, beta=0.05)
    document = how_many_document(tables, 4)
    sections = [*document.answers, *document.details, *panel]
    assert untranslated(sections) == set()
