"""Each bin's week as a strip beside its sentence."""

from __future__ import annotations

from markupsafe import Markup

from monitor.charts.layout import STRIP
from monitor.charts.svg import draw
from monitor.reports.charting import past_of_bin
from monitor.reports.picturing import picture_of
from monitor.reports.saying import Saying
from monitor.reports.sight import Period, sight
from monitor.rules import Bin
from monitor.web.desk import Desk

MOST = 24
"""With more bins than this none has a strip: the sheet would be megabytes, and nobody looks at so many at once (our choice)."""


def strip(desk: Desk, bed: Bin) -> Markup:
    """The last seven days of a bin as a picture; empty where nothing was measured, or where there are too many bins."""
    rules, now = desk.rules(), desk.now()
    if len(rules.bins) > MOST:
        return Markup("")
    seen = sight(Period.WEEK, now, rules.site.timezone)
    past = past_of_bin(desk.store, rules, bed, seen, now=now)
    if not any(series.cells for series in past.series):
        return Markup("")
    drawn = draw(picture_of(past, Saying(rules, now)), STRIP, classes="strip")
    return Markup('<figure class="strip">{}</figure>').format(Markup(drawn))  # noqa: S704 (escaped as it was drawn)
