"""Ballots that hold a choice: exact tests of tasters, said as an answer."""

from collections.abc import Sequence
from dataclasses import replace

import pytest
from tests.judging.records import LIKING, finding_text, found, record_of

from fairsmoke.judging.choices import choice_remarks
from fairsmoke.judging.remark import CaveatKind
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.tasting import Ballot, Sample, Taster


def chosen(choices: Sequence[tuple[int, Sequence[str], str]]) -> TrialRecord:
    """A record whose ballots are (taster, samples presented, sample chosen)."""
    base = record_of([(0.58, 0.61)] * 2, (LIKING,))
    samples = tuple(
        Sample(id=f"{arm}{cook}{copy}", piece=f"c{cook}-{arm}", code=100 + n)
        for n, (arm, cook, copy) in enumerate(
            (arm, cook, copy) for arm in ("bare", "paper") for cook in (0, 1) for copy in "ab"
        )
    )
    tasters = tuple(Taster(id=f"t{n}", name=f"T{n}") for n in range(20))
    ballots = tuple(
        Ballot(
            id=f"b{n}",
            taster=f"t{taster}",
            cook="c0",
            measure="liking",
            presented=tuple(presented),
            chosen=pick,
        )
        for n, (taster, presented, pick) in enumerate(choices)
    )
    return replace(base, samples=samples, tasters=tasters, ballots=ballots)


PAIR = ("bare0a", "paper0a")
THREE = ("bare0a", "bare0b", "paper0a")


def test_choices_between_two_are_an_exact_test_of_tasters() -> None:
    """Nine of ten: two-sided exact binomial p = 22/1024 (by hand)."""
    record = chosen([(n, PAIR, "paper0a" if n else "bare0a") for n in range(10)])
    (one,) = choice_remarks(record, LIKING)
    assert one.kind is CaveatKind.PREFERRED
    assert one.names == ("Bare", "Paper")
    assert one.numbers[:3] == (1.0, 9.0, 0.0)
    assert one.numbers[3] == pytest.approx(22 / 1024)


def test_a_taster_who_chose_often_is_one_taster() -> None:
    choices = [(0, PAIR, "paper0a")] * 7 + [(1, PAIR, "bare0a"), (1, PAIR, "paper0a")]
    (one,) = choice_remarks(chosen(choices), LIKING)
    assert one.numbers[:4] == (0.0, 1.0, 1.0, 1.0)


def test_the_odd_one_of_three_is_a_triangle() -> None:
    """11 right of 20: p = 0.0376 (ISO 4120's exact binomial, as in `tasting.discrimination`)."""
    record = chosen([(n, THREE, "paper0a" if n < 11 else "bare0b") for n in range(20)])
    (one,) = choice_remarks(record, LIKING)
    assert one.kind is CaveatKind.TOLD_APART
    assert one.numbers[:2] == (11.0, 20.0)
    assert one.numbers[2] == pytest.approx(0.0376, abs=5e-5)


def test_repeated_triangles_let_tasters_be_unlike() -> None:
    """Four tasters of five sets each, two always right: surer if counted as twenty people."""
    record = chosen(
        [(n // 5, THREE, "paper0a" if n < 10 or n % 5 == 0 else "bare0a") for n in range(20)]
    )
    alone = chosen([(n, THREE, "paper0a" if n < 12 else "bare0a") for n in range(20)])
    (together,), (apart,) = (choice_remarks(one, LIKING) for one in (record, alone))
    assert together.numbers[:2] == apart.numbers[:2] == (12.0, 20.0)
    assert together.numbers[2] != apart.numbers[2]
    assert together.numbers[3] == 4.0


def test_what_was_not_presented_on_paper_cannot_be_read() -> None:
    record = chosen([(0, (), "paper0a"), (1, PAIR, "bare0a")])
    kinds = [one.kind for one in choice_remarks(record, LIKING)]
    assert kinds == [CaveatKind.PREFERRED, CaveatKind.CHOICES_UNREAD]


def test_choices_are_an_answer_in_both_languages() -> None:
    finding = found(chosen([(n, PAIR, "paper0a" if n else "bare0a") for n in range(10)]))
    english, german = (
        " ".join(finding_text(finding, reader).split())
        for reader in (ENGLISH, replace(ENGLISH, language="de"))
    )
    assert "counted by taster: “Bare” 1, “Paper” 9, neither more often 0 (p = 0.021" in english
    assert "Wahl, gezählt nach Testern: „Bare“ 1, „Paper“ 9" in german
    assert "counted by taster" not in german
