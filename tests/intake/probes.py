"""Probes for the tests of intake: small, named for what they send."""

from monitor.readings import Measures
from monitor.rules import Point, Probe, Source, Unit


def probe(
    id_="p", measures=Measures.TEMPERATURE, *, sends=Unit.CELSIUS, topic=None, every=None, points=(), **place
):
    source = Source(topic or f"probes/{id_}", sends, **place)
    return Probe(id_, measures, source, every=every, calibration=tuple(Point(c, m) for c, m in points))


def by_id(*probes):
    return {p.id: p for p in probes}
