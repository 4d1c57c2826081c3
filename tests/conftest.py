"""What every test shares: Hypothesis without a stopwatch, and the same examples on every run."""

from collections.abc import Iterator

import pytest
from hypothesis import settings

# A deadline fails on a busy machine, not on a wrong program; another profile may search further.
settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None, max_examples=1000)
settings.load_profile("same")


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep what tests work out in a folder of theirs, and whoever runs them in peace."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield
