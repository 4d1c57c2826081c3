"""Samples, their codes, and what four invented tasters wrote on their ballots."""

from collections.abc import Mapping
from itertools import product

import numpy as np

from fairsmoke.demo.scenario import BARK, TASTERS, TENDERNESS
from fairsmoke.demo.timeline import MINUTE, Course
from fairsmoke.demo.truth import Truth
from fairsmoke.trial.tasting import Ballot, Sample, Score

MISSING_BALLOT = "july-taster-3-bark"
"""The ballot that nobody handed in."""

TASTER_SPREAD, BITE_SPREAD = 0.7, 0.7


def _half_points(score: float) -> float:
    return float(np.clip(round(score * 2) / 2, 0.0, 10.0))


def samples(courses: tuple[Course, ...], seed: int) -> tuple[Sample, ...]:
    """Return a sample of each piece for each taster, every one with a code of its own."""
    rng = np.random.default_rng([seed, 4])
    handed = [
        (course, row, taster) for course in courses for row in course.pair for taster in TASTERS
    ]
    codes = rng.choice(np.arange(100, 1000), size=len(handed), replace=False)
    return tuple(
        Sample(
            id=f"{row.handle}-{taster.id}",
            piece=row.handle,
            code=int(code),
            at=course.at(course.serve),
        )
        for (course, row, taster), code in zip(handed, codes, strict=True)
    )


def ballots(
    courses: tuple[Course, ...], truth: Mapping[str, Truth], seed: int
) -> tuple[Ballot, ...]:
    """Return the ballots: per cook, taster and measure, scores for both pieces; one is missing."""
    rng = np.random.default_rng([seed, 5])
    lenient = {taster.id: rng.normal(0.0, TASTER_SPREAD) for taster in TASTERS}
    found = []
    for course, taster in product(courses, TASTERS):
        order = [course.pair[index] for index in rng.permutation(2)]
        presented = tuple(f"{row.handle}-{taster.id}" for row in order)
        for measure in (TENDERNESS, BARK):
            scores = []
            for row, sample in zip(order, presented, strict=True):
                mine = truth[row.handle]
                level = mine.tenderness if measure == TENDERNESS else mine.bark
                felt = level + lenient[taster.id] + rng.normal(0.0, BITE_SPREAD)
                scores.append(Score(sample=sample, value=_half_points(felt)))
            ballot = Ballot(
                id=f"{course.night.handle}-{taster.id}-{measure}",
                taster=taster.id,
                cook=course.night.handle,
                measure=measure,
                at=course.at(course.serve + 10 * MINUTE),
                presented=presented,
                scores=tuple(scores),
            )
            if ballot.id != MISSING_BALLOT:
                found.append(ballot)
    return tuple(found)
