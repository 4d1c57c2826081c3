"""Readings from devices: batches, each taken exactly once."""

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Request

from fairsmoke.app.auth import FromDevice
from fairsmoke.app.problems import documented
from fairsmoke.arriving.batch import Batch, BatchTaken, arrived
from fairsmoke.arriving.writer import Writer

router = APIRouter(prefix="/api", tags=["readings"])


async def _writer(request: Request) -> Writer:
    found: Writer = request.app.state.writer
    return found


@router.post("/readings", responses=documented(400, 401, 403, 409, 413, 422, 429, 503))
async def send_readings(
    batch: Batch, device: FromDevice, writer: Annotated[Writer, Depends(_writer)]
) -> BatchTaken:
    """Take a batch of readings from a device, which shows its token.

    They are on the disk when the answer comes. Send the batch again with the same id whenever no
    answer came. Channels that nobody has named yet are kept until somebody does.
    """
    received = datetime.now(UTC)
    return await writer.take(arrived(batch, "device", str(device.id), device.name, received))
