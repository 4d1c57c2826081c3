"""The example of docs/mass-ledger.md gives what it says."""

import doctest
from pathlib import Path

PAGE = Path(__file__).parents[2] / "docs" / "mass-ledger.md"


def test_the_example_runs_as_printed() -> None:
    failed, tried = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert tried > 5
    assert failed == 0
