"""An invented trial from end to end, made by a seeded generator: no meat was cooked for it."""

from dataclasses import dataclass

import numpy as np

from fairsmoke.demo import happenings, tasting, weighings
from fairsmoke.demo.logger_files import (
    DemoLoggerFile,
    NightProbes,
    ReaderAnswers,
    write_logger_file,
)
from fairsmoke.demo.scenario import (
    COOKERS,
    KITCHEN,
    PROBES,
    REGISTRATION,
    SCALES,
    SHOULDERS,
    TASTERS,
    TRIAL,
    cook_of,
    piece_of,
)
from fairsmoke.demo.temperatures import surroundings_of
from fairsmoke.demo.timeline import Course, draw_courses, stays_of
from fairsmoke.demo.truth import Truth, draw_truth
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.record import TrialRecord

__all__ = ["DemoLoggerFile", "DemoTrial", "ReaderAnswers", "demo_trial"]


@dataclass(frozen=True)
class DemoTrial:
    """The demo: the record as people wrote it, and the logger files still to be taken in.

    ``record`` has neither readings nor sources; both come from ``logger_files``.
    """

    kitchen: Kitchen
    record: TrialRecord
    logger_files: tuple[DemoLoggerFile, ...]


def demo_trial(seed: int = 2026) -> DemoTrial:
    """Return the invented trial; the same seed gives the same records and the same bytes.

    The pieces, their arms and their sides are always those of the table in ``scenario``; times,
    temperatures, weights and scores follow the seed, a whole number from 0.

    >>> demo_trial().kitchen.invented
    True
    """
    truth = draw_truth(seed)
    courses = draw_courses(seed, truth)
    record = TrialRecord(
        trial=TRIAL,
        cookers=COOKERS,
        scales=SCALES,
        probes=PROBES,
        tasters=TASTERS,
        cooks=tuple(cook_of(course.night, course.at(course.ends)) for course in courses),
        pieces=tuple(piece_of(row) for row in SHOULDERS),
        placements=tuple(x for course in courses for x in happenings.placements_of(course)),
        events=tuple(x for course in courses for x in happenings.events_of(course)),
        weighings=weighings.weighings(courses, truth, seed),
        estimates=weighings.estimates(courses),
        samples=tasting.samples(courses, seed),
        ballots=tasting.ballots(courses, truth, seed),
        exclusions=tuple(x for course in courses for x in happenings.exclusions_of(course)),
        registration=REGISTRATION,
    )
    files = tuple(
        _logger_file(course, truth, np.random.default_rng([seed, 6, index]))
        for index, course in enumerate(courses)
    )
    return DemoTrial(KITCHEN, record, files)


def _logger_file(
    course: Course, truth: dict[str, Truth], rng: np.random.Generator
) -> DemoLoggerFile:
    finals = {row.handle: truth[row.handle].final_c for row in course.pair}
    grid_s, surroundings = surroundings_of(course, finals, rng)
    return write_logger_file(NightProbes(course, stays_of(course), grid_s, surroundings, rng))
