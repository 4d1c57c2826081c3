"""A probe's readings as a CSV file: one row a reading, the value as the logger wrote it.

Columns: ``time`` (local, with its offset), one column for each unit (``°C``, ``°F``, ``K``), and
where needed ``flags`` (words, with a semicolon between) and ``source`` (the file it came from).
"""

from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
from numpy.typing import NDArray

from fairsmoke.notebook.errors import FolderProblem
from fairsmoke.notebook.folder.rows import UNITS, RowReader, TableRows, flag_words, flags_of_words
from fairsmoke.notebook.readings import Series
from fairsmoke.trial.clock import EARLIEST_MS, LATEST_MS
from fairsmoke.trial.reading import Readings

_HEADINGS = {unit: heading for heading, unit in UNITS.items()}

# How this program writes times and values: what may be read without looking row by row.
_TIME = r"^\d{4}-\d\d-\d\dT[0-2]\d:[0-5]\d:[0-5]\d(\.\d{3})?[+-][0-2]\d:[0-5]\d$"
_VALUE = r"^-?\d{1,9}(\.\d{1,9})?$"

# Until 1972 some clocks stood odd seconds away from UTC, which an offset in minutes cannot say.
_WHOLE_MINUTES_FROM_MS = 94_694_400_000


def write_readings(series: Sequence[Series], zone: ZoneInfo) -> bytes:
    """Return the CSV of one probe's series in one cook, in order of time."""
    whole = pl.concat([_frame(one, zone) for one in series], how="diagonal")
    whole = whole.sort("ms", maintain_order=True)
    units = [heading for heading in UNITS if heading in whole.columns]
    optional = [name for name in ("flags", "source") if whole[name].is_not_null().any()]
    return whole.select("time", *units, *optional).write_csv().encode()


def _frame(series: Series, zone: ZoneInfo) -> pl.DataFrame:
    one = series.readings
    return pl.DataFrame(
        {
            "ms": one.time_ms,
            "time": _times_as_text(one.time_ms, zone),
            _HEADINGS[one.unit]: _values_as_text(one.raw, one.decimals),
            "flags": _flags_as_text(one.flags),
            "source": pl.repeat(series.source, len(one), dtype=pl.String, eager=True),
        }
    )


def _times_as_text(time_ms: NDArray[np.int64], zone: ZoneInfo) -> pl.Series:
    instants = pl.Series("time", time_ms).cast(pl.Datetime("ms")).dt.replace_time_zone("UTC")
    local = instants
    if time_ms.size and int(time_ms.min()) >= _WHOLE_MINUTES_FROM_MS:
        try:
            local = instants.dt.convert_time_zone(zone.key)
        except pl.exceptions.ComputeError:
            # A zone that only Python knows: the offset +00:00 says the same moments.
            local = instants
    seconds = local.dt.strftime("%Y-%m-%dT%H:%M:%S%:z")
    whole = time_ms % 1000 == 0
    if whole.all():
        return seconds
    exact = local.dt.strftime("%Y-%m-%dT%H:%M:%S%.3f%:z")
    return seconds.zip_with(pl.Series(whole), exact)


def _values_as_text(raw: NDArray[np.int64], decimals: int) -> pl.Series:
    digits = pl.Series("value", raw).cast(pl.String).str.strip_prefix("-")
    digits = digits.str.zfill(decimals + 1)
    if decimals:
        digits = digits.str.head(-decimals) + "." + digits.str.tail(decimals)
    return ("-" + digits).zip_with(pl.Series(raw < 0), digits)


def _flags_as_text(flags: NDArray[np.uint8]) -> pl.Series:
    words = {int(value): flag_words(int(value)) for value in np.unique(flags)}
    texts = pl.Series("flags", flags).cast(pl.Int64).replace_strict(words, return_dtype=pl.String)
    return texts.replace("", None)


def read_readings(
    content: bytes,
    file: str,
    place: tuple[str, str],
    zone: ZoneInfo | None,
    problems: list[FolderProblem],
    *,
    hidden: bool = False,
) -> list[Series]:
    """Return the series in the CSV of a (cook, probe); what is wrong joins ``problems``.

    Times without an offset are in ``zone``. Rows may stand in any order.
    """
    rows = _read_quickly(content)
    if rows is None:
        rows = RowReader(file, zone, problems).read(content)
    found = [Series(*place, source or None, readings, hidden) for source, readings in _split(rows)]
    return sorted(found, key=lambda one: (one.source or "", one.readings.unit))


def _split(rows: TableRows) -> Iterator[tuple[str, Readings]]:
    """Yield the readings of each source and unit, in order of time."""
    frame = pl.DataFrame({"source": rows.source, "unit": rows.unit, "value": rows.value})
    frame = frame.with_row_index("row")
    for (source, heading), part in frame.group_by(["source", "unit"], maintain_order=True):
        raw, decimals = _values_from_text(part["value"])
        which = part["row"].to_numpy()
        order = np.argsort(rows.time_ms[which], kind="stable")
        which = which[order]
        yield (
            str(source),
            Readings(
                rows.time_ms[which],
                raw[order],
                decimals,
                UNITS[str(heading)],
                rows.flags[which],
            ),
        )


def _values_from_text(values: pl.Series) -> tuple[NDArray[np.int64], int]:
    parts = values.str.split_exact(".", 1).struct.unnest()
    whole, fraction = parts["field_0"], parts["field_1"].fill_null("")
    lengths = fraction.str.len_chars().to_numpy()
    decimals = int(lengths.max()) if lengths.size else 0
    digits = whole + fraction.str.pad_end(decimals, "0")
    return digits.cast(pl.Int64).to_numpy(), decimals


def _read_quickly(content: bytes) -> TableRows | None:
    """Read a file that is just as this program writes it; None when it is not quite."""
    heading = content[:200].split(b"\n", 1)[0].decode("utf-8", "replace").split(",")
    units = [name for name in heading if name in UNITS]
    allowed = {"time", *UNITS, "flags", "source"}
    if not units or "time" not in heading or not set(heading) <= allowed or b'"' in content:
        return None
    try:
        frame = pl.read_csv(content, infer_schema=False).fill_null("")
    except pl.exceptions.PolarsError:
        return None
    if not frame.height or frame.columns != heading:
        return None
    given = [(frame[name] != "").to_numpy() for name in units]
    value = frame.select(pl.concat_str(units)).to_series()
    if not (np.sum(given, axis=0) == 1).all() or not value.str.contains(_VALUE).all():
        return None
    time_ms = _times_from_text(frame["time"])
    nothing = pl.repeat("", frame.height, dtype=pl.String, eager=True)
    flags = _flags_from_text(frame["flags"] if "flags" in heading else nothing)
    source = frame["source"] if "source" in heading else nothing
    if time_ms is None or flags is None or not source.str.contains(r"^[a-z0-9-]*$").all():
        return None
    which = pl.Series(np.argmax(given, axis=0)).cast(pl.Int64)
    unit = which.replace_strict(dict(enumerate(units)), return_dtype=pl.String)
    return TableRows(time_ms, unit, value, flags, source)


def _times_from_text(texts: pl.Series) -> NDArray[np.int64] | None:
    if not texts.str.contains(_TIME).all():
        return None
    times = texts.str.to_datetime("%Y-%m-%dT%H:%M:%S%.f%:z", time_unit="ms", strict=False)
    if times.null_count():
        return None
    time_ms = times.to_physical().to_numpy()
    inside = (time_ms >= EARLIEST_MS) & (time_ms < LATEST_MS)
    return time_ms if bool(inside.all()) else None


def _flags_from_text(words: pl.Series) -> NDArray[np.uint8] | None:
    try:
        known = {word: flags_of_words(word) for word in words.unique()}
    except ValueError:
        return None
    return words.replace_strict(known, return_dtype=pl.Int64).to_numpy().astype(np.uint8)
