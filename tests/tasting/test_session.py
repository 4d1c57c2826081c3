"""Blind tastings as drawn and sealed: balanced, redrawn from the seed, telling nothing before."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations

import pytest

from fairsmoke.tasting.codes import alike
from fairsmoke.tasting.protocols import TasteTest
from fairsmoke.tasting.sealing import SealedKey, new_secret, seal, unseal
from fairsmoke.tasting.session import Session, draw_scoring_session, draw_test_session

PIECES = {"bare": ("shoulder-1", "shoulder-3"), "paper": ("shoulder-2", "shoulder-4")}
TASTERS = tuple(f"taster-{n}" for n in range(1, 13))
TESTS = list(TasteTest)


@pytest.mark.parametrize("test", TESTS)
def test_sets_hold_the_samples_of_their_test(test: TasteTest) -> None:
    session = draw_test_session(test, PIECES, TASTERS, 5, sets=2)
    assert len(session.sets) == 24
    for one in session.sets:
        codes = [code for code in one.codes if code is not None]
        assert len(one.cups) == test.samples
        assert len(codes) == test.samples - (test is TasteTest.DUO_TRIO)
        assert not any(alike(a, b) for a, b in combinations(codes, 2))
        # Samples of one arm are of one piece: what differs within a set is the arm alone.
        assert len({(cup.arm, cup.piece) for cup in one.cups}) == 2
    every = [code for one in session.sets for code in one.codes if code is not None]
    assert len(every) == len(set(every))


@pytest.mark.parametrize("test", TESTS)
def test_orders_and_pieces_are_served_equally_often(test: TasteTest) -> None:
    session = draw_test_session(test, PIECES, TASTERS, 6)
    orders = Counter(tuple(cup.arm for cup in one.cups) for one in session.sets)
    assert len(set(orders.values())) == 1
    tasted = Counter(piece for one in session.sets for piece in {cup.piece for cup in one.cups})
    assert set(tasted.values()) == {6}


def test_the_answer_of_each_test() -> None:
    triangle = draw_test_session(TasteTest.TRIANGLE, PIECES, TASTERS, 7)
    for one in triangle.sets:
        (odd,) = triangle.correct(TasteTest.TRIANGLE, one)
        arm = next(cup.arm for cup in one.cups if cup.code == odd)
        assert sum(cup.arm == arm for cup in one.cups) == 1
    duo_trio = draw_test_session(TasteTest.DUO_TRIO, PIECES, TASTERS, 7)
    for one in duo_trio.sets:
        (like,) = duo_trio.correct(TasteTest.DUO_TRIO, one)
        assert next(cup.arm for cup in one.cups if cup.code == like) == one.cups[0].arm
    tetrad = draw_test_session(TasteTest.TETRAD, PIECES, TASTERS, 7)
    assert all(len(tetrad.correct(TasteTest.TETRAD, one)) == 2 for one in tetrad.sets)


def test_scoring_sets_hold_one_sample_an_arm_in_balanced_orders() -> None:
    three = {**PIECES, "foil": ("shoulder-5",)}
    session = draw_scoring_session(three, TASTERS, 8)
    places = Counter((at, cup.arm) for one in session.sets for at, cup in enumerate(one.cups))
    assert set(places.values()) == {4}


def test_the_seed_draws_the_same_again_and_another_seed_another() -> None:
    first, again = (draw_test_session(TasteTest.TRIANGLE, PIECES, TASTERS, 9) for _ in range(2))
    other = draw_test_session(TasteTest.TRIANGLE, PIECES, TASTERS, 10)
    assert first == again
    assert first.sets != other.sets


def test_a_sealed_key_comes_back_and_tells_nothing_before() -> None:
    session, secret = (
        draw_test_session(TasteTest.TETRAD, PIECES, TASTERS, 123456789012),
        new_secret(),
    )
    sealed = seal(session, secret)
    assert unseal(sealed, secret) == session
    for told in ("bare", "paper", "shoulder", "taster", str(session.seed)):
        assert told not in sealed.text + sealed.commitment


def test_the_length_of_a_seal_does_not_tell_how_arms_are_spelled() -> None:
    one = draw_test_session(TasteTest.PAIRED, {"a": ("p",), "b": ("q",)}, TASTERS[:3], 1)
    other = draw_test_session(TasteTest.PAIRED, {"aaaa": ("p",), "b": ("q",)}, TASTERS[:3], 1)
    assert len(seal(one, new_secret()).text) == len(seal(other, new_secret()).text)


def test_another_secret_or_a_changed_seal_does_not_open() -> None:
    session, secret = draw_test_session(TasteTest.PAIRED, PIECES, TASTERS, 12), new_secret()
    sealed = seal(session, secret)
    with pytest.raises(ValueError, match="does not open"):
        unseal(sealed, new_secret())
    with pytest.raises(ValueError, match="does not open"):
        unseal(SealedKey(sealed.text[:-8] + "AAAAAAA=", sealed.commitment), secret)
    other = seal(Session(1, session.sets[::-1]), secret)
    with pytest.raises(ValueError, match="not the one"):
        unseal(replace(other, commitment=sealed.commitment), secret)
    with pytest.raises(ValueError, match="cut off"):
        unseal(sealed, secret[:20])


def test_what_cannot_be_tasted_is_refused() -> None:
    three = {**PIECES, "foil": ("shoulder-5",)}
    refused: list[tuple[Callable[[], Session], str]] = [
        (lambda: draw_test_session(TasteTest.TRIANGLE, three, TASTERS, 1), "two arms"),
        (lambda: draw_scoring_session({"bare": ("p",)}, TASTERS, 1), "two arms or more"),
        (lambda: draw_scoring_session({"bare": ("p",), "foil": ()}, TASTERS, 1), "no piece"),
        (lambda: draw_scoring_session(PIECES, ("a", "a"), 1), "every taster once"),
        (lambda: draw_scoring_session(PIECES, TASTERS, 1, sets=50), "sets"),
    ]
    for wrong, words in refused:
        with pytest.raises(ValueError, match=words):
            wrong()
