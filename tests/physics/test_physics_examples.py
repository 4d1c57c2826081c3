"""The examples in the docstrings run and come out as printed."""

import doctest
import importlib
import pkgutil

import pytest

import fairsmoke.physics

NAMES = [found.name for found in pkgutil.iter_modules(fairsmoke.physics.__path__)]


@pytest.mark.parametrize("name", NAMES)
def test_examples(name: str) -> None:
    module = importlib.import_module(f"fairsmoke.physics.{name}")
    assert doctest.testmod(module).failed == 0


def test_there_are_examples() -> None:
    tried = sum(
        doctest.testmod(importlib.import_module(f"fairsmoke.physics.{name}")).attempted
        for name in NAMES
    )
    assert tried >= 10
