"""An alarm of several bins in which somebody works is kept from being told for as long as the longest work lasts."""

from monitor.alarms.holds import Work
from monitor.alarms.quiet import work_on
from monitor.checks.findings import Condition
from parts.orchard import alarm, ms


def test_of_two_works_the_longer_one_holds_an_alarm_back():
    short, long = (
        Work(bed, ms("10:00"), ms(until), "ana") for bed, until in (("fig", "11:00"), ("plum", "12:00"))
    )
    standing = alarm(12, "shed-air", Condition.SILENT)
    for works in ({"fig": short, "plum": long}, {"plum": long, "fig": short}):
        assert long is work_on(standing, ["fig", "plum"], works)
    assert short is work_on(standing, ["fig"], {"fig": short, "plum": long})
    assert None is work_on(standing, ["sloe"], {"fig": short, "plum": long})
