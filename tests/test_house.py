"""What the whole code keeps to: no import circles, one home for a name and for a limit."""

import ast
from collections import defaultdict
from functools import cache
from pathlib import Path

import grimp
import pytest
from tests.published.test_safety_limits import LIMITS

from fairsmoke.messages.catalogue import LANGUAGES, SOURCE
from fairsmoke.physics.limits import SAFETY_LIMITS

SRC = Path(__file__).parents[1] / "src" / "fairsmoke"

SHORT_FOR_NOW = frozenset({"app/forms.py", "app/navigation.py"})
"""Files under 25 lines that are no package's face. Only ever take names away."""

MAY_BE_SHORT = ("__init__.py", "__main__.py", "errors.py")
"""Faces of packages, and the one error of a room, which all of its modules raise and none holds."""

LEAST_LINES = 25


@cache
def trees() -> dict[Path, ast.Module]:
    return {path: ast.parse(path.read_text()) for path in sorted(SRC.rglob("*.py"))}


def circles() -> list[set[str]]:
    """Return the groups of modules that import each other, straight or round about."""
    graph = grimp.build_graph("fairsmoke")
    found: list[set[str]] = []
    seen: set[str] = set()
    for module in sorted(graph.modules):
        if module in seen or not graph.find_modules_directly_imported_by(module):
            continue
        both = graph.find_downstream_modules(module) & graph.find_upstream_modules(module)
        if both:
            found.append(both | {module})
            seen |= both
    return found


def test_no_modules_import_each_other_in_a_circle() -> None:
    assert [sorted(one) for one in circles()] == []


def homes() -> dict[str, list[Path]]:
    found: dict[str, list[Path]] = defaultdict(list)
    for path, tree in trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found[node.name].append(path.relative_to(SRC))
    return found


def test_no_class_name_has_two_meanings() -> None:
    assert {name: where for name, where in homes().items() if len(where) > 1} == {}


def test_no_file_is_a_scrap() -> None:
    short = {
        str(path.relative_to(SRC))
        for path in trees()
        if path.name not in MAY_BE_SHORT
        and "migrations" not in path.parts
        and len(path.read_text().splitlines()) < LEAST_LINES
    }
    assert short - SHORT_FOR_NOW == set()


def test_each_limit_is_guarded_by_value() -> None:
    assert set(LIMITS) == set(SAFETY_LIMITS)


LIMIT_C = frozenset({54.4, 57.0, 26.7, 48.9, 12.8, 74.0, 21.0})
"""Temperatures that are limits wherever they stand. (54, 60, 5 and 10 °C are other things too.)"""
MAY_NAME_A_LIMIT = ("physics/", "demo/", "cooking/", "intake/")
STILL_RESTATED: frozenset[str] = frozenset(
    {
        "answers/when.py",
        "planning/day/safety.py",
        "planning/methods/space.py",
    }
)
"""Files that still write a limit as a number. Only ever take names away."""


def restated() -> set[str]:
    found = set()
    for path, tree in trees().items():
        name = path.relative_to(SRC).as_posix()
        if name.startswith(MAY_NAME_A_LIMIT):
            continue
        if any(
            isinstance(node, ast.Constant)
            and isinstance(node.value, float)
            and node.value in LIMIT_C
            for node in ast.walk(tree)
        ):
            found.add(name)
    return found


def test_limits_are_not_written_as_numbers_a_second_time() -> None:
    assert restated() - STILL_RESTATED == set()


@pytest.mark.parametrize("language", [one for one in LANGUAGES if one != SOURCE])
def test_there_is_a_catalogue_for_each_language(language: str) -> None:
    # That it is whole is held by tests/app/test_pages.py, message by message.
    assert (SRC / "messages" / language / "LC_MESSAGES" / "fairsmoke.po").exists()
