"""Pieces as people write them: what stands behind a name, and what is no name."""

import pytest

from fairsmoke.messages.errors import JobError
from fairsmoke.setting_up.ask_answers import pieces_of


def test_a_piece_without_its_colon_is_not_taken_for_a_name() -> None:
    with pytest.raises(JobError, match=r"write “a: 7 lb 8 oz, 11\.5 cm”"):
        pieces_of(["a, 7 lb 8 oz, 11.5 cm"])
    assert pieces_of(["Left shoulder"]) == [{"id": "left-shoulder", "name": "Left shoulder"}]


def test_a_piece_says_mass_thickness_and_grade_in_any_order() -> None:
    (found,) = pieces_of(["s-1: choice, 11.5 cm, 3.41 kg"])
    assert found == {
        "id": "s-1",
        "name": "s-1",
        "grade": "choice",
        "thick": "11.5 cm",
        "mass": "3.41 kg",
    }
