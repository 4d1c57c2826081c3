"""How many, told: words, columns, JSON that programs can read, a chart that draws."""

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from fairsmoke.planning.panels.sizes import size_for_difference, size_for_likeness
from fairsmoke.planning.size.cost import Prices
from fairsmoke.planning.size.how_many import HowMany, Means, Panel, how_many
from fairsmoke.planning.size.repeats import Block
from fairsmoke.tasting.protocols import TasteTest
from fairsmoke.telling.chart_style import ChartError
from fairsmoke.telling.how_many import how_many_json, how_many_text, panel_text
from fairsmoke.telling.how_many_chart import write_how_many_chart
from fairsmoke.telling.lines import WIDTH
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


@pytest.fixture(scope="module")
def tables() -> tuple[HowMany, ...]:
    priced = Means(most=6, prices=Prices(60.0, 25.0, None, "€"))
    return how_many(YIELD, priced), how_many(LIKING, Means(most=2, panel=Panel(9)))


def test_text_has_a_row_for_every_number_and_keeps_its_width(tables: tuple[HowMany, ...]) -> None:
    said = how_many_text(tables)
    assert all(len(line) <= WIDTH for line in said.splitlines())
    rows = [line.split() for line in said.splitlines() if line.endswith("€")]
    assert [row[:3] for row in rows] == [[str(n), str(2 * n), str(n)] for n in range(1, 7)]
    assert rows[-1][-2:] == ["870", "€"]
    assert "Not even 6 pairs" in said
    assert "could never show" in said
    assert "from 6 pairs on" in " ".join(said.split())
    assert "is a guess, 15 % of the scale" in " ".join(said.split())
    assert "The cost counts nothing for tasters" in said


def test_sets_of_three_arms_are_not_called_pairs() -> None:
    said = how_many_text([how_many(YIELD, Means(most=2, block=Block(arms=3)))])
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
    write_how_many_chart(tables, path)
    content = path.read_bytes()
    if form == "svg":
        text = " ".join(t.text or "" for t in ET.fromstring(content).iter() if t.text)
        assert "no difference that matters" in text
        assert "4 points" in text
    assert content[:5] in (b"\x89PNG\r", b"%PDF-", b"<svg ")
    with pytest.raises(ChartError):
        write_how_many_chart(tables, tmp_path / "many.gif")


def test_panels_are_told_with_what_they_risk() -> None:
    size = size_for_difference(TasteTest.TRIANGLE, 0.3, beta=0.05)
    said = panel_text(TasteTest.TRIANGLE, 0.3, size, alike=False, alpha=0.05, beta=0.05)
    assert said.splitlines()[1].strip().startswith("66 answers")
    assert "from 73 on" in " ".join(said.split())
    alike = size_for_likeness(TasteTest.DUO_TRIO, 0.3)
    said = panel_text(TasteTest.DUO_TRIO, 0.3, alike, alike=True, alpha=0.2, beta=0.05)
    assert "likeness up to" in " ".join(said.split())
