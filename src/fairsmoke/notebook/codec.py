"""Readings packed into few bytes without losing any, and back.

Loggers write at regular steps and temperatures move slowly, so differences are small: times are
kept as differences of differences, values as differences, both as whole numbers with the sign in
the last bit, in as few bytes as the largest needs, bytes of equal weight together, then deflated.
Differences wrap around at 64 bits, so every whole number comes back as it was.
"""

import struct
import zlib

import numpy as np
from numpy.typing import NDArray

_FORM = 1
_HEAD = struct.Struct("<BIqqqBBB")
_LEVEL = 6


def zigzag(numbers: NDArray[np.int64]) -> NDArray[np.uint64]:
    """Return each number with its sign folded into the last bit: 0, -1, 1, -2 become 0, 1, 2, 3."""
    return ((numbers << 1) ^ (numbers >> 63)).view(np.uint64)


def _unfolded(numbers: NDArray[np.uint64]) -> NDArray[np.int64]:
    halves = (numbers >> np.uint64(1)).view(np.int64)
    return halves ^ -(numbers & np.uint64(1)).view(np.int64)


def _shuffled(numbers: NDArray[np.int64]) -> tuple[int, bytes]:
    """Return the bytes a number needs (0 when all are zero) and the numbers in planes of bytes."""
    coded = zigzag(numbers)
    largest = int(coded.max()) if coded.size else 0
    width = (largest.bit_length() + 7) // 8
    planes = coded.astype("<u8").view(np.uint8).reshape(-1, 8)[:, :width]
    return width, np.ascontiguousarray(planes.T).tobytes()


def _unshuffled(data: memoryview, width: int, n: int) -> NDArray[np.int64]:
    planes = np.frombuffer(data[: width * n], dtype=np.uint8).reshape(width, n)
    whole = np.zeros((n, 8), dtype=np.uint8)
    whole[:, :width] = planes.T
    return _unfolded(whole.view("<u8").reshape(n).astype(np.uint64))


def encode(time_ms: NDArray[np.int64], raw: NDArray[np.int64], flags: NDArray[np.uint8]) -> bytes:
    """Pack at least one reading: times, values and flags of equal length (n,).

    >>> packed = encode(np.array([0, 10]), np.array([71, 72]), np.zeros(2, dtype=np.uint8))
    >>> [column.tolist() for column in decode(packed)]
    [[0, 10], [71, 72], [0, 0]]
    """
    steps = np.diff(time_ms)
    first_step = int(steps[0]) if steps.size else 0
    time_width, times = _shuffled(np.diff(steps))
    value_width, values = _shuffled(np.diff(raw))
    plain_flags = not flags.any()
    body = times + values + (b"" if plain_flags else flags.tobytes())
    head = _HEAD.pack(
        _FORM,
        time_ms.size,
        int(time_ms[0]),
        first_step,
        int(raw[0]),
        time_width,
        value_width,
        not plain_flags,
    )
    return head + zlib.compress(body, _LEVEL)


def decode(
    payload: bytes,
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.uint8]]:
    """Unpack what ``encode`` packed: times, values and flags.

    Raises ValueError when the payload is not what ``encode`` makes.
    """
    try:
        form, n, start, first_step, first, time_width, value_width, has_flags = _HEAD.unpack_from(
            payload
        )
        body = memoryview(zlib.decompress(payload[_HEAD.size :]))
    except (struct.error, zlib.error) as error:
        raise ValueError(f"readings that cannot be unpacked: {error}") from error
    times_end = time_width * max(n - 2, 0)
    values_end = times_end + value_width * max(n - 1, 0)
    if form != _FORM or len(body) != values_end + (n if has_flags else 0):
        raise ValueError("readings that cannot be unpacked: wrong form or length")
    bends = _unshuffled(body[:times_end], time_width, max(n - 2, 0))
    moves = _unshuffled(body[times_end:values_end], value_width, max(n - 1, 0))
    steps = _added_up(first_step, bends)[: n - 1]
    flags = np.zeros(n, dtype=np.uint8)
    if has_flags:
        flags[:] = np.frombuffer(body[values_end:], dtype=np.uint8)
    return _added_up(start, steps), _added_up(first, moves), flags


def _added_up(first: int, differences: NDArray[np.int64]) -> NDArray[np.int64]:
    whole = np.empty(differences.size + 1, dtype=np.int64)
    whole[0] = first
    whole[1:] = differences
    return np.cumsum(whole, dtype=np.int64)
