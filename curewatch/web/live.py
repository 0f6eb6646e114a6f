"""Live updates: a stream of events that says when what the page shows may have changed."""

from __future__ import annotations

import asyncio
import json
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import StreamingResponse

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from curewatch.web.desk import Desk
    from curewatch.web.room import Room

router = APIRouter(include_in_schema=False)
LOOK_S = 0.5
BEAT_S = 8.0  # the page calls the connection lost after 20 s without a word


@router.get("/live")
def live(request: Request) -> StreamingResponse:
    """Stream the number of the state, at each change and every few seconds."""
    room: Room = request.app.state.room
    room.reader(request)
    return StreamingResponse(
        _states(room.desk), media_type="text/event-stream", headers={"X-Accel-Buffering": "no"}
    )


async def _states(desk: Desk) -> AsyncIterator[str]:
    told, silent_s = -1, 0.0
    while desk.open:
        if desk.generation != told or silent_s >= BEAT_S:
            told, silent_s = desk.generation, 0.0
            yield f"event: state\ndata: {json.dumps({'generation': told})}\n\n"
        await asyncio.sleep(LOOK_S)
        silent_s += LOOK_S
