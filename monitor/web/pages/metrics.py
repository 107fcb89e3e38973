"""`/metrics`: numbers for whoever draws or watches them elsewhere."""

from __future__ import annotations

import os
import resource
from functools import cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from monitor import __version__
from monitor.clock import WallClock, time_since_boot
from monitor.web import exposition, measures
from monitor.web.showing import desk_of


def metrics(request: Request) -> Response:
    """Everything, in the format that is asked for."""
    kind = exposition.wanted(request.headers.get("accept", ""))
    if kind is None:
        said = f"This is told as {exposition.OPENMETRICS}, or as {exposition.PLAIN}.\n"
        return PlainTextResponse(said, 406)
    desk = desk_of(request)
    found = [*measures.families(desk.store, desk.rules(), desk.now()), *_process()]
    body = exposition.openmetrics(found) if kind == exposition.OPENMETRICS else exposition.plain(found)
    return Response(body, headers={"Content-Type": kind, "Vary": "Accept"})


def _process() -> list[exposition.Family]:
    used = resource.getrusage(resource.RUSAGE_SELF)
    resident = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")
    return list(
        measures.of_process(
            version=__version__, memory=resident, cpu=round(used.ru_utime + used.ru_stime, 3), began=_began()
        )
    )


@cache
def _began() -> float:
    """Seconds since 1970, from the ticks between boot and start (proc(5)); /proc/stat is hidden from a service."""
    ticks = int(Path("/proc/self/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[19])
    booted = (WallClock().now() - time_since_boot()) / 1000
    return round(booted + ticks / os.sysconf("SC_CLK_TCK"), 2)


ROUTES = [Route("/metrics", metrics)]
