"""How long a piece lay where bacteria grow, on straight lines at the ends of the range.

4 and 60 °C (USDA, to the public) and the hot hold of 57 °C (Food Code 3-501.16), by value in
tests/published/test_safety_limits.py. What a probe may read too much or too little counts against
the piece. Expected times are read off the lines.
"""

from dataclasses import replace

import numpy as np
import pytest
from tests.live.test_live import at

from fairsmoke.live.growth_time import GrowthTime, growth_time
from fairsmoke.live.stages import ProbeTrace
from fairsmoke.trial.clock import epoch_ms

H = 3600.0
Points = list[tuple[float, float]]


def grown(*probes: Points, accuracy_k: float = 0.0, until: float = 10.0) -> GrowthTime | None:
    """Return the growth time from 0 h, when the piece went on."""
    traces = [
        ProbeTrace(
            np.array([epoch_ms(at(hours)) for hours, _ in points], np.int64),
            np.array([float(value) for _, value in points]),
        )
        for points in probes
    ]
    return growth_time([(trace, accuracy_k) for trace in traces], at(0), at(until))


@pytest.mark.parametrize(
    ("points", "accuracy_k", "coming_h", "still", "cooled_h", "cool"),
    [
        # On its way: from 4 to 44 °C in the hours from 1 to 9, carried on at both ends.
        ([(1, 4), (9, 44)], 0.0, 10.0, True, 0.0, False),
        # Colder than 4 °C it does not grow: 0 to 40 °C in 8 h passes 4 °C after 0.8 h.
        ([(1, 0), (9, 40)], 0.0, 10 - 1.8, True, 0.0, False),
        # With 2 K the lower end is 2 °C as read.
        ([(1, 0), (9, 40)], 2.0, 10 - 1.4, True, 0.0, False),
        # 60 °C itself is still within the range, a tenth above is not.
        ([(1, 40), (9, 60)], 0.0, 10.0, True, 0.0, False),
        ([(1, 40), (5, 60), (5.5, 60.1), (9, 60.1)], 0.0, 5.0, False, 0.0, False),
        # With 2 K it is 62 °C as read.
        ([(1, 40), (5, 62), (9, 62)], 2.0, 10.0, True, 0.0, False),
        ([(1, 40), (5, 62), (5.5, 62.1), (9, 62.1)], 2.0, 5.0, False, 0.0, False),
        # Above from the first reading on: there was no coming up.
        ([(1, 70), (9, 70)], 0.0, 0.0, False, 0.0, False),
        # Cooked, then below 57 °C: 70 to 50 °C in the hours from 2 to 4, and so to the end.
        ([(1, 70), (2, 70), (4, 50)], 0.0, 0.0, False, 10 - 3.3, True),
        # With 2 K below 59 °C as read.
        ([(1, 70), (2, 70), (4, 50)], 2.0, 0.0, False, 10 - 3.1, True),
        # 57 °C at the last is held hot.
        ([(1, 70), (2, 70), (4, 50), (6, 50), (8, 57)], 0.0, 0.0, False, 6.7, False),
        ([(1, 70), (2, 70), (4, 50), (6, 50), (8, 56)], 0.0, 0.0, False, 6.7, True),
        # Between 57 and 60 °C after it was cooked: neither the one nor the other.
        ([(1, 70), (2, 70), (4, 58)], 0.0, 0.0, False, 0.0, False),
        # What is frozen again counts as cool too: nobody looks whether the cook is over.
        ([(1, 70), (2, 70), (4, -10)], 0.0, 0.0, False, 10 - 2 - 2 * 13 / 80, True),
        # Coming up counts until it was first above, whatever comes then.
        ([(2, 20), (6, 100), (8, 20)], 0.0, 4.0, False, 10 - 8 + 2 * 37 / 80, True),
        ([(1, 0), (9, 80)], 2.0, 6.0, False, 0.0, False),
        # A millisecond above is above; of two readings of one moment the later counts.
        ([(1, 4), (5, 90), (5 + 1 / 3.6e6, 44), (9, 44)], 0.0, 1 + 4 * 56 / 86, False, 5.0, True),
        ([(1, 4), (9, 90), (9, 44)], 0.0, 10.0, True, 0.0, False),
        # Readings at the very beginning and end, and outside, do not.
        ([(0, 90), (1, 4), (9, 44), (10, 90), (11, 95)], 0.0, 10.0, True, 0.0, False),
    ],
)
def test_time_in_the_growth_range(
    points: Points, accuracy_k: float, coming_h: float, still: bool, cooled_h: float, cool: bool
) -> None:
    found = grown(points, accuracy_k=accuracy_k)
    assert found is not None
    assert found.still_coming_up is still
    assert found.is_cool is cool
    assert found.coming_up_s / H == pytest.approx(coming_h)
    assert found.cooled_s / H == pytest.approx(cooled_h)


def test_the_worst_of_several_probes_counts() -> None:
    cold: Points = [(1, 20), (9, 30)]
    done: Points = [(1, 20), (2, 61), (9, 90)]
    cooled: Points = [(1, 70), (2, 70), (4, 50)]
    for probes in ((cold, done, cooled), (cooled, done, cold)):
        found = grown(*probes)
        assert found is not None
        assert found.cooled_s == pytest.approx(6.7 * H)
        assert replace(found, cooled_s=0.0) == GrowthTime(10 * H, True, 0.0, True)
    # One that has read nothing yet takes nothing away.
    assert grown(cold, []) == grown(cold)


def test_nothing_is_known_without_a_reading() -> None:
    assert grown() is None
    assert grown([]) is None
    assert grown([(11, 20)]) is None
    assert grown([(0, 20)]) is None
    assert grown([(-1, 20)], until=-2) is None
    # The one reading there is is carried on at both ends.
    found = grown([(5, 20)])
    assert found is not None
    assert found.coming_up_s == 10 * H
