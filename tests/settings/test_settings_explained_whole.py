"""What `check` says of many bins and of people: alike bins together, who is told at which hour, how often, and what for
want of a probe cannot be said.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.settings import explain, load
from monitor.settings.alike import listed
from monitor.settings.profiles import ids

FARM = """\
site: {id: farm, timezone: Europe/Lisbon}
profiles:
  row:
    bins: row-001..row-500
    name: Row <number>
    species: eisenia-fetida
    limits: {temperature: {comfort: 15..25 °C}}
    zones: {head: {probes: {<bin>-head: {measures: temperature, topic: rows/<bin>, every: 30 min}}}}
bins:
  row-017: {limits: {temperature: {comfort: 16..25 °C}}}
  row-500: {wake_for: comfort}
people:
  ana: {channels: phone, evening: "21:00", up: "06:30"}
  ben: {channels: phone, hears: [row-001, row-002]}
  cleo: {channels: phone, evening: "22:00", up: "07:00", may: []}
channels: {phone: {send_to: {from_env: PHONE}}}
"""


@pytest.fixture
def said(tmp_path):
    def saying(text=FARM):
        file = tmp_path / "s.yaml"
        file.write_text(text)
        return explain(load([file], environ={"PHONE": "json://localhost"}))

    return saying


def test_five_hundred_bins_of_a_profile_fit_on_a_page(said):
    lines = said()
    assert len(lines) <= 70
    assert "Alike, 496 bins: row-003..row-016 and row-018..row-499." in lines
    assert "Alike, 2 bins: row-001 and row-002." in lines
    assert "Bin <bin>: eisenia-fetida, stands in farm." in lines
    assert "  Zone head (living): <bin>-head (temperature)." in lines


def test_a_bin_that_differs_is_told_by_itself_with_its_own_limit(said):
    text = "\n".join(said())
    assert "Bin Row 017 (row-017): eisenia-fetida" in text
    assert "comfort 16 °C to 25 °C (settings: bins.row-017.limits.temperature.comfort)" in text
    assert 1 == text.count("bins.row-017.limits")


def test_bins_that_are_alike_without_a_profile_are_told_together_too(said):
    bed = (
        "  BED: {species: eisenia-fetida, zones: {a: {probes: {BED-a: {measures: temperature, topic: t/BED}}}}}\n"
    )
    text = "site: {id: farm}\nbins:\n" + "".join(bed.replace("BED", name) for name in ("fig", "plum", "fig-2"))
    assert "Alike, 3 bins: fig, plum and fig-2." in said(text)


def test_when_a_probe_counts_as_silent_is_told(said):
    text = FARM.replace("row-001..row-500", "row-001..row-003").replace("row-500: {wake", "row-002: {wake").replace(
        "row-017", "row-003")  # fmt: skip
    assert "  A probe counts as silent when it has said nothing for 1 h 30 min." in said(text)


def test_who_is_woken_for_what_is_told_by_the_hour(said):
    lines = said()
    ana = lines.index(
        "Person ana hears of everything by phone; sleeps from 21:00 to 06:30; may see to feed, mats and water."
    )
    assert [
        "  From 06:30 to 21:00 harm, and what must be done before 21:00, is told in the minute in which it happens; what can"
        " wait is told at 21:00 or at 06:30, all of one place in one notice.",
        "  At 21:00 whatever matters that night is told; then until 06:30 woken by harm alone (and by discomfort in"
        " row-500), when there is something to be done about it that night, and the rest waits for 06:30.",
    ] == lines[ana + 1 : ana + 3]


def test_who_has_no_sleeping_hours_is_told_at_any_hour(said):
    lines = said()
    ben = next(n for n, line in enumerate(lines) if line.startswith("Person ben"))
    assert (
        "  Told in the minute in which it happens, at any hour, all of one place in one notice." == lines[ben + 1]
    )


def test_who_may_do_nothing_is_never_woken_for_a_bed(said):
    assert any("never woken for a bed, because nothing may be done" in line for line in said())


def test_how_often_is_told_once(said):
    assert 1 == sum("what goes on night after night is said once a week" in line for line in said())


@given(st.lists(st.integers(0, 40), unique=True, min_size=1).map(sorted), st.sampled_from([1, 2, 3]))
def test_a_list_of_ids_says_all_of_them_and_no_other(numbers, width):
    all_ = [f"row-{number:0{width}d}" for number in numbers]
    pieces = listed(all_).replace(" and ", ", ").split(", ")
    assert all_ == [one for piece in pieces for one in ids(piece)]
