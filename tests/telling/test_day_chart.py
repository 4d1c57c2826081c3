"""The drawing of a day: whole hours of the local clock, and everything within its box."""

import numpy as np
import pytest
from tests.planning.when_days import ZONE

from fairsmoke.quantity import METRIC
from fairsmoke.telling.day_chart import day_chart
from fairsmoke.telling.reader import Reader


@pytest.mark.parametrize(
    ("serve", "hours"),
    [
        ("2026-05-03T12:00:00+00:00", 30.0),
        # The clocks of London go back on 25 October 2026 at 01:00 UTC (IANA time zone database).
        ("2026-10-25T12:00:00+00:00", 30.0),
        ("2026-05-03T12:00:00+00:00", 3.0),
        ("2026-05-03T12:00:00+00:00", 150.0),
    ],
)
def test_the_drawing_has_a_few_whole_hours_and_keeps_within_its_box(
    serve: str, hours: float
) -> None:
    begin = -3600.0 * hours
    piece = {
        "name": "One",
        "on_s": 0.9 * begin,
        "off_s": [2 * begin, 0.5 * begin, None],
        "open_s": -1200.0,
        "steps_s": [0.7 * begin],
    }
    content = {"first_s": begin, "pieces": [piece], "serve": serve, "zone": ZONE.key}
    chart = day_chart(content, Reader(METRIC, "en", "24", ZONE))
    (bar,) = chart["bars"]
    assert (
        bar["low"]
        <= bar["on"]
        < bar["steps"][0]
        < bar["off"]
        < bar["opened"]
        < chart["serve"]
        == bar["high"]
    )
    # Half of the way in time is half of the way along, to the pixel's tenth.
    assert bar["off"] == pytest.approx((bar["low"] + chart["serve"]) / 2, abs=0.1)
    assert 1 <= len(chart["ticks"]) <= 6
    assert all(tick["time"].endswith(":00") for tick in chart["ticks"])
    gaps = np.diff([tick["x"] for tick in chart["ticks"]])
    if "10-25" in serve:
        # Midnight to six of that day lasts seven hours.
        assert gaps.max() / gaps.min() == pytest.approx(7 / 6, abs=0.01)
    elif gaps.size:
        assert np.ptp(gaps) < 0.3
