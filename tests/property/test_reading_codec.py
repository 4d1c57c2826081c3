"""Packed readings come back as they were, whatever they are."""

import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from fairsmoke.notebook.codec import decode, encode, zigzag
from fairsmoke.notebook.readings import checksum_of

WHOLE = st.integers(-(2**63), 2**63 - 1)
NEAR = st.integers(-300, 300)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.tuples(WHOLE | NEAR, WHOLE | NEAR, st.integers(0, 255)), min_size=1, max_size=80)
)
def test_everything_comes_back(rows: list[tuple[int, int, int]]) -> None:
    # Whole columns come back in any order; that times never decrease is not the codec's business.
    time_ms = np.array([row[0] for row in rows], dtype=np.int64)
    raw = np.array([row[1] for row in rows], dtype=np.int64)
    flags = np.array([row[2] for row in rows], dtype=np.uint8)
    found = decode(encode(time_ms, raw, flags))
    assert [column.dtype for column in found] == [time_ms.dtype, raw.dtype, flags.dtype]
    assert [column.tolist() for column in found] == [time_ms.tolist(), raw.tolist(), flags.tolist()]


@settings(max_examples=50, deadline=None)
@given(arrays.arrays(np.int64, st.integers(1, 5000), elements=NEAR), st.integers(1, 60_000))
def test_long_runs_come_back(moves: np.ndarray, step_ms: int) -> None:
    raw = np.cumsum(moves)
    time_ms = np.arange(raw.size, dtype=np.int64) * step_ms + 1_777_758_000_000
    flags = (moves > 290).astype(np.uint8)
    found = decode(encode(time_ms, raw, flags))
    assert [column.tolist() for column in found] == [c.tolist() for c in (time_ms, raw, flags)]


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=80), st.integers(0, 200), st.binary(max_size=4))
def test_spoilt_bytes_are_refused_in_words(junk: bytes, at: int, put: bytes) -> None:
    sound = encode(np.arange(50), np.arange(50) ** 2, np.zeros(50, dtype=np.uint8))
    for payload in (junk, sound[:at] + put + sound[at + len(put) :], sound[:at]):
        try:
            columns = decode(payload)
        except ValueError:
            continue
        assert len({column.size for column in columns}) == 1


def test_signs_are_folded_as_published() -> None:
    # Protocol Buffers, "Encoding", signed integers: 0 -1 1 -2 ... 2147483647 -2147483648
    # become 0 1 2 3 ... 4294967294 4294967295 (from memory).
    signed = np.array([0, -1, 1, -2, 2**31 - 1, -(2**31)], dtype=np.int64)
    assert zigzag(signed).tolist() == [0, 1, 2, 3, 2**32 - 2, 2**32 - 1]


def test_the_checksum_covers_what_is_said_about_a_block() -> None:
    # The CRC-32 of "123456789" is cbf43926 (the check value that every catalogue of CRCs gives).
    assert zlib.crc32(b"123456789") == 0xCBF43926
    row = {
        "number": 1,
        "start_ms": 0,
        "end_ms": 5,
        "n": 2,
        "unit": "degC",
        "decimals": 1,
        "payload": b"123456789",
    }
    whole = checksum_of(row)
    for name, other in (("n", 3), ("unit", "degF"), ("decimals", 2), ("payload", b"12345678")):
        assert checksum_of(row | {name: other}) != whole


def test_a_regular_logger_costs_little() -> None:
    # Bound, not a pinned value: a tenth of what 8 + 8 + 1 bytes a reading would take.
    moves = np.random.default_rng(1).integers(-2, 3, 4096)
    time_ms = np.arange(4096, dtype=np.int64) * 10_000
    payload = encode(time_ms, np.cumsum(moves), np.zeros(4096, dtype=np.uint8))
    assert len(payload) / 4096 < 1.7


def test_nothing_is_not_packed() -> None:
    nothing = np.empty(0, dtype=np.int64)
    with pytest.raises(IndexError):
        encode(nothing, nothing, nothing.astype(np.uint8))
