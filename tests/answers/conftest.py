"""The demo, made once for all the tests of the jobs."""

from pathlib import Path

import pytest

from fairsmoke.answers.demonstration import Demonstration, demonstrate


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Demonstration:
    out: Path = tmp_path_factory.mktemp("demo")
    return demonstrate(out)
