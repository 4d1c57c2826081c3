"""What every test shares.

Hypothesis without a stopwatch and with the same examples on every run; a cache of the tests' own;
no silent skip; and, when asked, the processor time of each test.
"""

import json
import os
import time
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

# A deadline fails on a busy machine, not on a wrong program; another profile may search further.
settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None, max_examples=1000)
settings.load_profile("same")

MAY_BE_SKIPPED: dict[str, str] = {
    "tests/notebook/test_killed.py::test_a_killed_writer_loses_nothing_that_it_acknowledged": (
        "needs an operating system with forks"
    ),
}
"""Tests that may be left out on some machine, and why. Any other skip is a failure."""


def pytest_addoption(parser: pytest.Parser) -> None:
    group = parser.getgroup("fairsmoke")
    group.addoption("--cpu-times", help="append each test's processor time to this file of JSON")
    group.addoption(
        "--skips-allowed", action="store_true", help="let tests be skipped that are not listed"
    )


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    if (
        report.skipped
        and not hasattr(report, "wasxfail")
        and item.nodeid.split("[")[0] not in MAY_BE_SKIPPED
        and not item.config.getoption("--skips-allowed")
    ):
        report.outcome = "failed"
        report.longrepr = (
            f"{item.nodeid} was skipped, and tests/conftest.py does not list it: {call.excinfo}"
        )
    return report


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    path = item.config.getoption("--cpu-times")
    before, began = os.times(), time.perf_counter()
    result = yield
    if path:
        after = os.times()
        # Programs that the test started count once they have ended and were waited for.
        seconds = sum(after[:4]) - sum(before[:4])
        wall = time.perf_counter() - began
        line = {"test": item.nodeid, "cpu_s": round(seconds, 3), "wall_s": round(wall, 3)}
        with Path(path).open("a") as file:
            file.write(json.dumps(line) + "\n")
    return result


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep what tests work out in a folder of theirs, and whoever runs them in peace."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield
