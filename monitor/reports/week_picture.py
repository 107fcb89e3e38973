"""One bin's week as a picture."""

from __future__ import annotations

from datetime import date

from monitor.charts.chart import Chart
from monitor.charts.raster import picture
from monitor.readings import Millis
from monitor.reports.charting import past_of_bin
from monitor.reports.picturing import picture_of
from monitor.reports.saying import Saying
from monitor.reports.sight import Period, sight
from monitor.rules import Bin, Rules
from monitor.store.promises import Store


def week_chart(store: Store, rules: Rules, bed: Bin, *, first: date, at: Millis) -> Chart | None:
    """The seven days that begin with `first`; None where nothing was measured in them."""
    past = past_of_bin(store, rules, bed, sight(Period.WEEK, at, rules.site.timezone, first), now=at)
    if not any(series.cells for series in past.series):
        return None
    return picture_of(past, Saying(rules, at))


def week_picture(store: Store, rules: Rules, bed: Bin, *, first: date, at: Millis) -> bytes | None:
    """The same as PNG, for mail programs."""
    chart = week_chart(store, rules, bed, first=first, at=at)
    return None if chart is None else picture(chart)
