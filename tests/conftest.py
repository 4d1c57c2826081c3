"""What every test shares: Hypothesis without a stopwatch, and the same examples on every run."""

from hypothesis import settings

# A deadline fails on a busy machine, not on a wrong program; another profile may search further.
settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None, max_examples=1000)
settings.load_profile("same")
