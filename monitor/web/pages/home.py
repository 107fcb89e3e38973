"""What needs doing, most urgent first, and how every bin is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor.readings import MINUTE, Millis
from monitor.reports import expecting
from monitor.reports.facts import alarms_facts, now_facts
from monitor.reports.saying import Saying, millis
from monitor.reports.shapes import AlarmShape, AlarmsShape, BinShape, NowShape, OrderShape
from monitor.reports.text import air_text, rounds_text, zone_text
from monitor.web.pages.ahead import FEW, told
from monitor.web.pages.strips import strip
from monitor.web.showing import desk_of, render

RETURNED = "returned"
"""How the standard's word for *over, and not seen by anybody* begins."""


REDRAWN: Millis = 5 * MINUTE
"""How long a drawn week is good for: a point of it is a quarter of an hour wide on a phone."""


@dataclass(frozen=True, slots=True)
class Card:
    """One thing to do or to know, with its buttons. `first` is the caution that fits, `more` the others."""

    sentence: str
    why: str
    alarms: tuple[int, ...]
    first: str = ""
    more: tuple[str, ...] = ()
    stands: str = ""
    """Who has seen it, or put it aside."""
    urgent: bool = False
    seen: bool = False
    aside: bool = False

    @property
    def id(self) -> int:
        """The alarm by whose number it is known on the page."""
        return self.alarms[0]

    @property
    def numbers(self) -> str:
        """All its alarms, as a form carries them."""
        return ",".join(map(str, self.alarms))


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that the page says. `well` is whether nothing waits for anybody."""

    judged: str
    watching: bool
    unsure: str
    groups: tuple[tuple[str, tuple[Card, ...]], ...]
    well: bool
    notes: tuple[str, ...]


def home(request: Request) -> Response:
    """The sheet."""
    desk = desk_of(request)
    at = desk.now()
    rules = desk.rules()
    facts = now_facts(desk.store, rules, at)
    saying = Saying(rules, at)
    return render(
        request,
        "home.html",
        sheet=sheet_of(facts, alarms_facts(desk.store, rules, at), saying),
        bins=[
            (bed, _zones(bed, saying), picture, _ahead(request, bed, saying))
            for bed, picture in _drawn(request, facts["bins"], at)
        ],
        mats=[mat["sentence"] for mat in facts["mats"]],
        air=[air_text(air, saying) for air in facts["air"]],
    )


def _drawn(request: Request, bins: Sequence[BinShape], at: Millis) -> Iterator[tuple[BinShape, Markup]]:
    """Each bin with its week. Of many, those alone in which something is the matter."""
    shown = bins if len(bins) <= FEW else [bed for bed in bins if bed["alarms"]][:FEW]
    desk, kept = desk_of(request), request.app.state.strips
    rules = desk.rules()
    for bed in bins:
        of = rules.version, at // REDRAWN, tuple(bed["alarms"])
        one = rules.bins[bed["id"]]
        yield bed, kept.get(bed["id"], of, partial(strip, desk, one)) if bed in shown else Markup()


def _ahead(request: Request, bed: BinShape, saying: Saying) -> str:
    """What is expected of a bin; of a site with many, nothing (its own page says it)."""
    if len(saying.rules.bins) > FEW:
        return ""
    one = saying.rules.bins[bed["id"]]
    return expecting.sentence(one, told(request, one), saying)


def sheet_of(facts: NowShape, alarms: AlarmsShape, saying: Saying) -> Sheet:
    """What stands, as cards in the order of urgency."""
    known = {alarm["number"]: alarm for alarm in alarms["alarms"]}
    orders = [_card(order, known, saying) for order in facts["to_do"]]
    told = {number for card in orders for number in card.alarms}
    bare = [_bare(a, saying) for a in known.values() if _is_untold(a) and a["number"] not in told]
    over = [_bare(a, saying) for a in known.values() if _is_over(a)]
    groups = (
        ("Urgent", [c for c in orders if c.urgent and not c.aside]),
        ("To do", [*(c for c in orders if not c.urgent and not c.aside), *bare]),
        ("Over, and not seen by anybody yet", over),
        ("Put aside for now", [c for c in orders if c.aside]),
    )
    shown = tuple((title, tuple(cards)) for title, cards in groups if cards)
    waits = any(cards for title, cards in groups if title != "Put aside for now")
    return Sheet(
        judged=rounds_text(facts, saying),
        watching=facts["watching"],
        unsure=facts["clock"]["sentence"] if facts["clock"] else "",
        groups=shown,
        well=facts["watching"] and not waits,
        notes=tuple(n["sentence"] for n in facts["notes"] if n["kind"] not in ("no advice", "shelved")),
    )


def _is_over(alarm: AlarmShape) -> bool:
    return alarm["state"].startswith(RETURNED)


def _is_untold(alarm: AlarmShape) -> bool:
    """Whether it stands and no advice answers it (which is told all the same)."""
    kept = alarm["suppressed_by"] or alarm["shelved"] or alarm["out_of_service"]
    return not _is_over(alarm) and not kept


def _card(order: OrderShape, known: Mapping[int, AlarmShape], saying: Saying) -> Card:
    mine = [known[n] for n in order["alarms"] if n in known and not _is_over(known[n])]
    first, *more = order["cautions"] or [""]
    return Card(
        sentence=order["sentence"],
        why=order["why"],
        alarms=tuple(a["number"] for a in mine) or tuple(order["alarms"]),
        first=first,
        more=tuple(more),
        stands=" ".join(dict.fromkeys(s for a in mine if (s := _stands(a, saying)))),
        urgent=order["urgent"],
        seen=order["seen"],
        aside=order["shelved"],
    )


def _bare(alarm: AlarmShape, saying: Saying) -> Card:
    return Card(
        sentence=alarm["about"],
        why=alarm["sentence"],
        alarms=(alarm["number"],),
        stands=_stands(alarm, saying),
        urgent=alarm["level"] == "harm",
        seen=alarm["state"] == "acknowledged",
    )


def _stands(alarm: AlarmShape, saying: Saying) -> str:
    if alarm["shelved"]:
        until = saying.clock(millis(alarm["shelved"]["until"]))
        return f"Put aside by {alarm['shelved']['who']} until {until}."
    if alarm["seen_by"] and alarm["seen_at"]:
        return f"{alarm['seen_by']} saw it {saying.when(millis(alarm['seen_at']))}."
    return ""


def _zones(bed: BinShape, saying: Saying) -> list[str]:
    return [zone_text(zone, saying) for zone in bed["zones"]]


ROUTES = [Route("/", home)]
