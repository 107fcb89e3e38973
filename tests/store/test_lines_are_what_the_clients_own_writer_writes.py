"""Our lines against those of influxdb-client, the reference writer of line protocol: the same key, fields and time."""

from hypothesis import given
from hypothesis import strategies as st
from influxdb_client import Point, WritePrecision

from monitor.readings import RESOLUTION, Quality, Reading
from monitor.store.influx_lines import EARLIEST, LATEST, line_of
from monitor.store.rows import steps_of

NAMES = st.text(st.characters(blacklist_categories=("Cc", "Cs", "Zl", "Zp")), min_size=1, max_size=20).filter(
    lambda text: not text.endswith("\\") and text.strip()
)


@given(
    site=NAMES,
    tag=NAMES,
    value=st.floats(-1e6, 1e6),
    at=st.integers(EARLIEST, LATEST - 10**10),
    late=st.integers(0, 10**9),
    quality=st.sampled_from(Quality),
    own=st.booleans(),
    arrival=st.integers(1, 2**53),
)
def test_a_line_says_what_the_reference_says(site, tag, value, at, late, quality, own, arrival):
    ours = line_of(site, tag, Reading(tag, at, value, at + late, quality, own, arrival))
    point = Point("reading").tag("probe", tag).tag("site", site).time(at, WritePrecision.MS)
    for name, number in (
        ("value", steps_of(value) / RESOLUTION), ("quality", int(quality)), ("own", int(own)), ("after", late),
        ("arrival", arrival),
    ):  # fmt: skip
        point = point.field(name, number)
    key, fields, time = ours.rsplit(" ", 2)
    their_key, their_fields, their_time = point.to_line_protocol().rsplit(" ", 2)
    assert (their_key, their_time) == (key, time)
    assert parsed(their_fields) == parsed(fields)


def parsed(fields):
    """Integers end with an i, floats do not; the reference leaves a float's `.0` away."""
    pairs = (one.split("=") for one in fields.split(","))
    return {name: int(text[:-1]) if text.endswith("i") else float(text) for name, text in pairs}
