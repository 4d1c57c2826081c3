"""When a cook has ended, what came for it is flagged as a whole, as a file would be."""

from datetime import UTC, datetime, timedelta

import numpy as np
from tests.app.clients import TRIAL, Client
from tests.app.devices import NOW_COOK, batch, device, place, reading, send, start_cook
from tests.app.test_readings_in import channel

from fairsmoke.arriving.naming import whole_cooks
from fairsmoke.arriving.streams import AS_A_WHOLE
from fairsmoke.intake.flags import flag_readings
from fairsmoke.notebook import Notebook
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.source import Source


def test_streams_are_flagged_anew_once_the_cook_has_ended(
    book: Notebook, visitor: Client, cook: Client
) -> None:
    token = device(book)
    start = start_cook(book, probes=("grate",), hours=6)
    place(book, "grate", start)
    send(visitor, token, batch(reading("pit", 150, start)))
    cook.form(f"/readings/channels/{channel(book, 'pit')}", probe="grate")
    # Air that falls by 130 K and stays there: known to be real only afterwards.
    row = [150.0 + n % 2 for n in range(60)] + [20.0 + n % 2 for n in range(60)]
    for n, value in enumerate(row, 1):
        send(visitor, token, batch(reading("pit", value, start + timedelta(seconds=20 * n))))
    live = book.readings(TRIAL, NOW_COOK, "grate")
    assert int(np.count_nonzero(~live.believed)) > 3
    now = datetime.now(UTC)
    assert whole_cooks(book, now) == []
    ends = (start + timedelta(hours=2)).isoformat()
    book.correct("cook", NOW_COOK, {"ends": ends}, why="it is over", trial=TRIAL)
    assert whole_cooks(book, now) == [(TRIAL, NOW_COOK)]
    assert cook.form(f"/readings/whole/{TRIAL}/{NOW_COOK}").status_code == 303
    whole = book.readings(TRIAL, NOW_COOK, "grate")
    assert (whole.time_ms.tolist(), whole.raw.tolist()) == (
        live.time_ms.tolist(),
        live.raw.tolist(),
    )
    assert int(np.count_nonzero(~whole.believed)) == 1
    none = np.zeros_like(live.flags)
    bare = Readings(live.time_ms, live.raw, live.decimals, live.unit, none)
    assert np.array_equal(whole.flags, flag_readings(bare, "air"))
    # Once is enough, the earlier flags stay in the history, and what comes late still counts.
    assert whole_cooks(book, now) == []
    assert [one.why for one in book.history(Source, trial=TRIAL) if one.struck] == [AS_A_WHOLE]
    late = batch(reading("pit", 21, start + timedelta(hours=1)))
    assert send(visitor, token, late).json()["new"] == 1
    assert book.check() == ()
