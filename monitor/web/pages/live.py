"""Tells open pages that a round is over, by server-sent events."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator

from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from monitor.web.showing import desk_of

SIGN_OF_LIFE = 15.0
"""Seconds after which a line is sent though nothing happened, so that a dead connection is found."""


async def events(request: Request) -> Response:
    """One `round` for each that is over."""
    desk = desk_of(request)

    async def lines() -> AsyncIterator[str]:
        yield "retry: 3000\n\n"
        with desk.listening() as changed:
            while not desk.closing:
                try:
                    await asyncio.wait_for(changed.wait(), SIGN_OF_LIFE)
                except TimeoutError:
                    yield ": still here\n\n"
                    continue
                changed.clear()
                if not desk.closing:
                    yield "event: round\ndata: over\n\n"

    return StreamingResponse(lines(), media_type="text/event-stream", headers={"X-Accel-Buffering": "no"})


ROUTES = [Route("/events", events)]
