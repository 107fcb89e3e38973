"""The week as files to keep: one page with its pictures inside it, and the pictures alone."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping

from monitor import words
from monitor.readings import Millis
from monitor.reports.saying import Saying, millis
from monitor.reports.week_html import week_html
from monitor.reports.week_picture import week_picture
from monitor.reports.week_shapes import WeekShape
from monitor.rules import Rules
from monitor.store.promises import Store


def week_pictures(store: Store, rules: Rules, facts: WeekShape, *, at: Millis) -> dict[str, bytes]:
    """A PNG by bin, of each of which anything was heard in that week."""
    first = words.local(millis(facts["since"]), rules.site.timezone).date()
    drawn = {bed: week_picture(store, rules, rules.bins[bed], first=first, at=at) for bed in rules.bins}
    return {bed: picture for bed, picture in drawn.items() if picture is not None}


def week_page(facts: WeekShape, saying: Saying, pictures: Mapping[str, bytes]) -> str:
    """HTML that loads nothing."""
    sources = {bed: f"data:image/png;base64,{b64encode(picture).decode()}" for bed, picture in pictures.items()}
    return week_html(facts, saying, pictures=sources)
