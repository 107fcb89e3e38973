"""Days and nights of an invented shed, lived through the real rounds in quarters of an hour; who was told what, and why."""

from dataclasses import replace

from monitor.readings import MINUTE
from monitor.rules import Place
from monitor.store.memory import MemoryStore
from parts import orchard
from parts.house import House
from parts.orchard import ms


def only_thermometers(bed):
    """Thermometers of living zones alone, so that nothing but what a test is about is the matter."""
    zones = (replace(z, probes=tuple(p for p in z.probes if p.measures == "temperature")) for z in bed.zones)
    return replace(bed, zones=tuple(z for z in zones if z.role == "living"))


FIG, PLUM, SLOE = map(only_thermometers, (orchard.FIG, orchard.PLUM, orchard.SLOE))
PLACES = {"shed": Place("shed", "Shed"), "porch": Place("porch", "Porch")}
WELL = {"fig_west": 24.0, "fig_east": 24.0, "plum_near": 18.0, "sloe_top": 24.0}
COOL = {"fig_west": 19.0, "fig_east": 19.0}
COLD = {"fig_west": 11.0, "fig_east": 11.0}
"""Fig below comfort, and at its harm that is told at once."""


class Shed(House):
    """A house with words for time: `until("21:00")`."""

    def until(self, clock, **celsius):
        """The same values every quarter of an hour up to and including the next such time (UTC, as in Lisbon in winter)."""
        values = {name: t for name, t in {**WELL, **celsius}.items() if name.replace("_", "-") in self.probes}
        end = ms(clock) if "T" in clock else self._next(clock)
        while self.at < end:
            self.at = min(end, self.at + 15 * MINUTE)
            self.say(**values)
        return self

    @property
    def probes(self):
        return self.rules.probes()

    def _next(self, clock):
        hours, minutes = map(int, clock.split(":"))
        today = self.at - self.at % (24 * 60 * MINUTE)
        at = today + (60 * hours + minutes) * MINUTE
        return at if at > self.at else at + 24 * 60 * MINUTE

    def post(self, person=None):
        """Everything written so far, oldest first."""
        found = {p.notice.number: p.notice for p in self.store.notices(1000)}
        return [n for n in found.values() if person is None or n.person == person]

    def told(self, person=None):
        """(time of day, slot, title) of everything written so far."""
        return [(clock(n.at), str(n.slot), n.title) for n in self.post(person)]

    def why(self, alarm, person=None):
        """(event, verdict, reason) of everything decided about an alarm."""
        found = self.store.story(alarm).decisions
        return [(d.event, str(d.verdict), d.reason) for d in found if person in (None, d.person)]


def clock(at):
    return f"{at // (60 * MINUTE) % 24:02d}:{at // MINUTE % 60:02d}"


def shed(*people, bins=(FIG, PLUM), at="12:00", store=None, **more):
    """Everything well at noon."""
    rules = replace(orchard.rules(bins=bins, people=people or (orchard.ANA,), **more), places=PLACES)
    house = Shed(rules=rules, store=store or MemoryStore(), at=ms(at))
    house.say(**{name: t for name, t in WELL.items() if name.replace("_", "-") in rules.probes()})
    return house
