"""The printed report: what it says, that it fits, and that it is the same twice."""

import re
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject

from fairsmoke.judging.finding import Finding
from fairsmoke.quantity import US
from fairsmoke.telling.blocks import tied, unbroken
from fairsmoke.telling.finding.answer import against_first, verdict_sentence
from fairsmoke.telling.finding.cautions import caution_lines
from fairsmoke.telling.finding.ledger import showed
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.telling.report import report_pdf, write_report
from fairsmoke.trial.protocol import Cover, Wrap
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Part, Weighing

AMERICAN = replace(ENGLISH, units=US, clock="12")
POUND_KG = 0.45359237
"""The international pound of 1959, by definition."""

RecordMaker = Callable[..., TrialRecord]
Judge = Callable[[TrialRecord], Finding]


def pages_of(pdf: bytes) -> list[str]:
    """Return each page's words with every run of space as one, as a reader would say them."""
    reader = PdfReader(BytesIO(pdf))
    return [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]


@pytest.fixture(scope="module")
def demo_pdf(demo_finding: Finding) -> bytes:
    return report_pdf(demo_finding)


@pytest.fixture(scope="module")
def demo_pages(demo_pdf: bytes) -> list[str]:
    return pages_of(demo_pdf)


def test_the_first_page_is_the_answer(demo_pages: list[str], demo_finding: Finding) -> None:
    first, second = demo_pages[0], demo_pages[1]
    trial, difference = demo_finding.record.trial, demo_finding.main.differences[0]
    for words in (
        trial.title,
        trial.question,
        str(verdict_sentence(demo_finding, demo_finding.main, difference)),
        "Invented: no meat was cooked for this trial",
        "Registered plan",
        "95 % interval",
        "better: over 2 points more",
        "6 pieces in 3 cooks, 2 May 2026 to 24 Oct 2026; arms drawn by chance",
        f"Page 1 of {len(demo_pages)}",
    ):
        assert words in first
    assert "Every measure" in second


def test_the_pages_behind_hold_everything(demo_pages: list[str], demo_finding: Finding) -> None:
    whole = " ".join(demo_pages)
    record = demo_finding.record
    assert record.registration is not None
    for words in (
        "How the trial was run",
        "Smoke until the stall",
        "clocks go back",
        "What the readings show of the pit and the pieces",
        "was 6.",
        "Where the mass went",
        "cooked meat + clinging fat",
        "trimmed raw meat as put on",
        "meat as bought",
        "re-randomisation",
        "Had the spread between pieces been thought",
        "What was left out, and why",
        "Believed before the trial: Yield of cooked meat",
        "PMC6357800",
        "Cautions",
        "carbon monoxide",
        "How to check this",
        record.registration.digest,
    ):
        assert words in whole, words
    for piece in record.units:
        assert f"Mass ledger: {piece.name}" in whole
    for cook in record.cooks:
        assert f"Cook: {cook.name}" in whole


def test_it_never_calls_food_safe(demo_pages: list[str]) -> None:
    # DESIGN section 9: the tool never calls food safe on its own.
    whole = " ".join(demo_pages).lower()
    assert not re.search(r"\bsafe(ly)?\b", whole)
    assert "your local code and the authority that enforces it decide" in whole


def test_the_same_finding_gives_the_same_bytes(demo_pdf: bytes, demo_finding: Finding) -> None:
    assert report_pdf(demo_finding) == demo_pdf


def test_the_document_can_be_read_aloud(demo_pdf: bytes, demo_finding: Finding) -> None:
    reader = PdfReader(BytesIO(demo_pdf))
    catalog = reader.root_object
    assert str(catalog["/Lang"]) == "en-GB"
    assert "/Marked" in repr(catalog["/MarkInfo"])
    assert reader.metadata is not None
    assert reader.metadata.title == demo_finding.record.trial.title
    # ISO 14289-1 (PDF/UA-1): the metadata names the standard that the file keeps to.
    assert reader.xmp_metadata is not None
    assert b"pdfuaid" in reader.xmp_metadata.stream.get_data()
    # Three cooks, two charts for each of four measures, all measures, and the masses.
    assert count_alternatives(reader) >= 13


def count_alternatives(reader: PdfReader) -> int:
    """Count the structure elements that carry words for who cannot see."""
    found, waiting = 0, [reader.root_object["/StructTreeRoot"]]
    while waiting:
        node = waiting.pop().get_object()
        if isinstance(node, ArrayObject):
            waiting += list(node)
        elif isinstance(node, DictionaryObject):
            found += "/Alt" in node
            waiting += [node[key] for key in ("/K",) if key in node]
    return found


def test_paper_and_units_follow_the_reader(demo_finding: Finding) -> None:
    letter = report_pdf(demo_finding, AMERICAN, paper="us-letter")
    box = PdfReader(BytesIO(letter)).pages[0].mediabox
    # ANSI Letter is 8.5 by 11 inches of 72 points.
    assert (float(box.width), float(box.height)) == pytest.approx((612.0, 792.0), abs=0.5)
    pages = pages_of(letter)
    assert "Every measure" in pages[1]
    whole = " ".join(pages)
    assert "250 °F" in whole
    assert re.search(r"\d lb \d", whole)
    # Written readings and stated sources stay as they were; computed temperatures do not.
    assert "cooker at 121 °C" not in whole


def test_a4_is_a4(demo_pdf: bytes) -> None:
    box = PdfReader(BytesIO(demo_pdf)).pages[0].mediabox
    # ISO 216: 210 by 297 mm.
    size = (float(box.width) * 25.4 / 72, float(box.height) * 25.4 / 72)
    assert size == pytest.approx((210.0, 297.0), abs=0.2)


MARKUP = r'#panic("x") *b* _i_ $x$ <l> @r `c` \n "q'


def test_words_of_the_record_are_never_markup(record_maker: RecordMaker, finding_of: Judge) -> None:
    pages = pages_of(report_pdf(finding_of(record_maker(markup=MARKUP))))
    whole = " ".join(pages)
    assert f"Small trial {MARKUP}" in whole
    assert f"Mass ledger: Shoulder 1 {MARKUP}" in whole


@pytest.mark.parametrize("name", ["Shoulder 🔥", "漢字", "हिन्दी", "ﷺ", "Épaule ½ ✓"])
def test_any_script_gets_its_report(
    record_maker: RecordMaker, finding_of: Judge, name: str
) -> None:
    record = record_maker(pairs=1)
    pieces = tuple(piece.model_copy(update={"name": name}) for piece in record.pieces)
    assert report_pdf(finding_of(replace(record, pieces=pieces))).startswith(b"%PDF")


def test_one_pair_says_what_it_cannot_tell(record_maker: RecordMaker, finding_of: Judge) -> None:
    found = finding_of(record_maker(pairs=1))
    first = pages_of(report_pdf(found))[0]
    assert "This is one pair." in first
    assert "two pieces treated alike differ by more than" in first
    assert "Exploratory: no plan was registered before" in first


@pytest.mark.parametrize(
    ("arms", "pairs", "missing", "long_names"),
    [(4, 3, (1,), True), (2, 6, (), True), (2, 8, (5, 6), False)],
)
def test_large_and_odd_trials_keep_the_answer_on_one_page(
    record_maker: RecordMaker,
    finding_of: Judge,
    arms: int,
    pairs: int,
    missing: tuple[int, ...],
    long_names: bool,
) -> None:
    record = record_maker(arms=arms, pairs=pairs, missing=missing, long_names=long_names)
    found = finding_of(record)
    pages = pages_of(report_pdf(found))
    assert "Every measure" in pages[1]
    for one in against_first(found):
        assert str(verdict_sentence(found, found.main, one)) in pages[0]


def test_three_arms_show_every_pair_and_the_first_curve(
    record_maker: RecordMaker, finding_of: Judge
) -> None:
    found = finding_of(record_maker(arms=3, pairs=1))
    pages = pages_of(report_pdf(found))
    first = pages[0]
    assert "Every measure" in pages[1]
    assert "Foil against Paper" in first
    assert "(Paper against Bare) after the trial" in first
    assert "Paper against Bare; Foil against Bare" in first
    # One pair of each, each arm at a place of its own.
    assert "so the place and what was tried cannot be told apart" in first
    for piece in found.record.units:
        assert (
            f"{100 * (found.main.responses.values[found.record.units.index(piece)]):.1f} %" in first
        )


def test_what_cannot_be_weighed_so_is_named_and_the_innocent_keep_their_yields(
    record_maker: RecordMaker, finding_of: Judge
) -> None:
    record = record_maker(pairs=2)
    heavy = Weighing(
        id="served-twice",
        piece="piece-0-bare",
        scale="scale",
        reading_kg=16.75 * POUND_KG,
        written="16 lb 12 oz",
        sum=(Part.parse("served meat"),),
    )
    heavy = heavy.model_copy(update={"checked": heavy.claim})
    found = finding_of(replace(record, weighings=(*record.weighings, heavy)))
    pages = pages_of(report_pdf(found))
    assert "Some weighings cannot all be true, so there is no yield of Shoulder 1" in pages[0]
    whole = " ".join(pages)
    assert "served-twice (16 lb 12 oz" in whole
    assert "no yield is given" in whole
    assert [row.value is None for row in found.main.responses.rows] == [True, False, False, False]


@pytest.mark.parametrize(
    ("written", "kg", "shown"),
    [
        ("1 lb 2 oz", 1.125 * POUND_KG, "1 lb 2.0 oz"),
        ("1lb 2.0oz", 1.125 * POUND_KG, "1 lb 2.0 oz"),
        ("18 oz", 1.125 * POUND_KG, "1 lb 2.0 oz (“18 oz”)"),
        ("510 g", 0.510, "1 lb 2.0 oz (“510 g”)"),
        ("", 0.510, "1 lb 2.0 oz"),
    ],
)
def test_a_reading_is_not_said_twice(written: str, kg: float, shown: str) -> None:
    part = (Part.parse("rub"),)
    weighing = Weighing(id="w", piece="p", scale="s", reading_kg=kg, written=written, sum=part)
    assert AMERICAN.say(showed(weighing)) == shown


def test_what_a_scale_does_not_state_is_not_nought(
    record_maker: RecordMaker, finding_of: Judge
) -> None:
    record = record_maker(pairs=1)
    bare = tuple(scale.model_copy(update={"repeatability_kg": 0.0}) for scale in record.scales)
    whole = " ".join(pages_of(report_pdf(finding_of(replace(record, scales=bare)))))
    assert "not stated not stated" in whole
    assert "as bought" not in whole


def test_a_trial_without_an_answer_is_told_too(
    record_maker: RecordMaker, finding_of: Judge
) -> None:
    found = finding_of(record_maker(missing=(0, 2, 4)))
    assert found.main.differences == ()
    first = pages_of(report_pdf(found))[0]
    assert "No answer yet for “Yield”." in first


def test_it_is_written_whole_or_not_at_all(
    record_maker: RecordMaker, finding_of: Judge, tmp_path: Path
) -> None:
    found = finding_of(record_maker(pairs=1))
    target = tmp_path / "report.pdf"
    target.write_bytes(b"old")
    write_report(found, target)
    assert target.read_bytes().startswith(b"%PDF-")
    assert [path.name for path in tmp_path.iterdir()] == ["report.pdf"]
    with pytest.raises(OSError, match="nowhere"):
        write_report(found, tmp_path / "nowhere" / "report.pdf")
    blocked = tmp_path / "folder"
    blocked.mkdir()
    with pytest.raises(OSError, match="folder"):
        write_report(found, blocked)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["folder", "report.pdf"]


def test_cautions_follow_what_was_done(demo_record: TrialRecord) -> None:
    lines = " ".join(map(str, caution_lines(demo_record)))
    assert "Paper near heat" in lines
    assert "Film near heat" not in lines
    stages = demo_record.trial.protocol.stages
    film = stages[0].model_copy(update={"wrap": Wrap(above=Cover.FILM, below=Cover.FILM)})
    protocol = demo_record.trial.protocol.model_copy(update={"stages": (film, *stages[1:])})
    trial = demo_record.trial.model_copy(update={"protocol": protocol})
    wrapped = TrialRecord(trial=trial, pieces=demo_record.pieces)
    told = " ".join(map(str, caution_lines(wrapped)))
    assert "Film near heat" in told
    assert "no direct heat" in told


def test_numbers_stay_with_their_units() -> None:
    assert (
        tied("4.1 ± 0.2 kg in 6 h at 121 °C") == "4.1 ±\u00a00.2\u00a0kg in 6\u00a0h at 121\u00a0°C"
    )
    assert tied("3 pieces, 2 males") == "3 pieces, 2 males"
    assert unbroken("+4.4 points (−0.2 to 8.5)") == "+4.4\u00a0points (−0.2\u00a0to\u00a08.5)"
