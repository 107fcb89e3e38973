"""What goes out as text comes back as it was, and another logger's table is read with its problems told."""

import csv
import io
import json
from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import pandas
import pytest
from hypothesis import given
from hypothesis import strategies as some

from monitor.errors import BadValue
from monitor.history import COLUMNS, Problem, Wanted, exported, from_csv, from_lines, iso
from monitor.readings import Measures, Quality, Reading
from monitor.rules import Probe, Source, Unit

T0 = 1_768_400_000_000
PROBES = {
    "fig-west": Probe("fig-west", Measures.TEMPERATURE, Source("probes/fig-west", Unit.CELSIUS)),
    "us-west": Probe("us-west", Measures.TEMPERATURE, Source("probes/us-west", Unit.FAHRENHEIT)),
    "fig-damp": Probe("fig-damp", Measures.MOISTURE, Source("probes/fig-damp", Unit.COUNTS)),
    "shed-damp": Probe("shed-damp", Measures.HUMIDITY, Source("probes/shed", Unit.HUMIDITY)),
}


def as_csv(rows):
    out = io.StringIO()
    table = csv.DictWriter(out, COLUMNS)
    table.writeheader()
    table.writerows(rows)
    return out.getvalue()


def as_lines(rows):
    return "\n".join(json.dumps(row) for row in rows)


readings = some.builds(
    Reading,
    some.sampled_from(sorted(PROBES)),
    some.integers(0, 7_000_000_000_000),
    some.integers(-1_000_000, 40_000_000).map(lambda steps: steps / 10_000),
    some.integers(0, 7_000_000_000_000),
    some.sampled_from(Quality),
    some.booleans(),
)


@given(some.lists(readings, max_size=20))
def test_our_own_export_comes_back_exactly(given):
    rows = [row for one in given for row in exported(PROBES[one.probe], [one])]
    assert (given, []) == from_lines(as_lines(rows), PROBES)
    assert (given, []) == from_csv(as_csv(rows), PROBES, Wanted())


def test_another_library_reads_the_export_as_we_mean_it():
    given = [Reading("fig-west", T0 + n * 61_007, n / 16, T0 + n * 61_007) for n in range(100)]
    frame = pandas.read_csv(io.StringIO(as_csv(exported(PROBES["fig-west"], given))), parse_dates=["time"])
    assert [r.at for r in given] == [round(t.timestamp() * 1000) for t in frame["time"]]
    assert [r.value for r in given] == list(frame["value"])
    assert {"Cel"} == set(frame["unit"])


TABLE = "Time,Temperature (°F),Note\n2026-01-03T18:00:00Z,68,\n2026-01-03T18:10:00+01:00,69.8,warm\n"


def test_a_loggers_table_with_its_unit_in_the_name_of_the_column():
    found, problems = from_csv(TABLE, PROBES, Wanted("fig-west", value="temperature"))
    assert [] == problems
    assert [(datetime(2026, 1, 3, 18, tzinfo=UTC), 20.0), (datetime(2026, 1, 3, 17, 10, tzinfo=UTC), 21.0)] == [
        (datetime.fromtimestamp(r.at / 1000, UTC), round(r.value, 9)) for r in found
    ]
    assert {True} == {r.own_time for r in found}


def test_a_table_with_semicolons_writes_decimal_commas():
    found, problems = from_csv("time;value\n1767460000;20,5\n1767460600;-0,25\n", PROBES, Wanted("fig-west"))
    assert ([(1_767_460_000_000, 20.5), (1_767_460_600_000, -0.25)], []) == (
        [(r.at, r.value) for r in found],
        problems,
    )


def test_every_problem_is_told_with_its_line_and_the_good_lines_are_read():
    table = "\n".join([
        "time,value", "2026-01-03T18:00,20", "", "yesterday,20", "2026-01-03T18:20,", "2026-01-03T18:30,NaN",
        "2026-01-03T18:40,20,7", "1999999999999999,20", "0055-01-01T00:00,20", "2026-01-03T18:50,21",
    ])  # fmt: skip
    found, problems = from_csv(table, PROBES, Wanted("fig-west"))
    assert [20.0, 21.0] == [r.value for r in found]
    assert [4, 5, 6, 7, 8, 9] == [p.line for p in problems]
    assert "line 4: 'yesterday' is no time written as ISO 8601 (2026-01-03T18:00) or seconds since 1970" == str(
        problems[0]
    )
    assert [
        "there is no value",
        "'NaN' is no number that can be kept",
        "it has 3 cells, the first line names 2",
    ] == [p.reason for p in problems[1:4]]
    assert "the logger's clock was wrong" in problems[5].reason


def test_times_are_read_by_the_shape_and_the_zone_that_are_named():
    wanted = Wanted("fig-west", zone="Asia/Kathmandu", shape="%d/%m/%y %H:%M")
    ((one,), problems) = from_csv("time,value\n03/01/26 18:00,20\n", PROBES, wanted)
    assert [] == problems
    assert datetime(2026, 1, 3, 12, 15, tzinfo=UTC) == datetime.fromtimestamp(one.at / 1000, UTC)


def test_the_hour_that_happens_twice_goes_on_and_the_one_that_never_was_is_refused():
    """Against zoneinfo: Lisbon, 25 October 2026 02:00 and 29 March 2026 01:00."""
    rows = [
        "2026-10-25T00:45",
        "2026-10-25T01:15",
        "2026-10-25T01:45",
        "2026-10-25T01:15",
        "2026-10-25T01:45",
        "2026-10-25T02:15",
    ]
    table = "time,value\n" + "".join(f"{row},{n}\n" for n, row in enumerate(rows))
    found, problems = from_csv(table, PROBES, Wanted("fig-west", zone="Europe/Lisbon"))
    assert [] == problems
    assert [30 * 60_000] * 5 == [b.at - a.at for a, b in pairwise(found)]
    local = [
        datetime.fromtimestamp(r.at / 1000, ZoneInfo("Europe/Lisbon")).strftime("%Y-%m-%dT%H:%M") for r in found
    ]
    assert rows == local
    _, problems = from_csv("time,value\n2026-03-29T01:30,7\n", PROBES, Wanted("fig-west", zone="Europe/Lisbon"))
    assert [Problem(2, "2026-03-29 01:30:00 never was in Europe/Lisbon: clocks went forward over it")] == problems


@pytest.mark.parametrize(
    ("table", "wanted", "said"),
    [
        ("time,value\n1,2\n", Wanted(), "no column is called probe: say whose readings these are with --probe"),
        ("when,value\n1,2\n", Wanted("fig-west"), "the first line names no column 'time'; it names when, value"),
        ("", Wanted("fig-west"), "the first line names no column 'time'; it names nothing"),
    ],
)
def test_what_is_no_such_table_is_refused_whole(table, wanted, said):
    with pytest.raises(BadValue) as told:
        from_csv(table, PROBES, wanted)
    assert said == str(told.value)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"probe": "fig-moon"}, "the settings know no probe 'fig-moon'"),
        ({"unit": "degX"}, "'degX' is no unit of temperature; known are Cel, °C, C, degF, °F, F, K"),
        ({"quality": "fine"}, "'fine' is no quality"),
        ({"own_time": "perhaps"}, "own_time is true or false, not 'perhaps'"),
        ({"value": "warm"}, "'warm' is no number"),
        ({"unit": "K", "value": -1}, "-1.0 K is below absolute zero"),
        (
            {"probe": "fig-damp", "unit": "%"},
            "fig-damp sends counts, and this is in %: one cannot be made of the other",
        ),
    ],
)
def test_what_is_wrong_with_a_line_is_said(change, said):
    (row,) = exported(PROBES["fig-west"], [Reading("fig-west", T0, 20.0, T0)])
    assert ([], [Problem(1, said)]) == from_lines(json.dumps(row | change), PROBES)


@pytest.mark.parametrize(
    ("line", "said"), [("[]", "it is no JSON object"), ("{", "it is not JSON"), ("{}", "probe is missing")]
)
def test_a_line_that_is_no_row_is_told(line, said):
    _, (problem,) = from_lines(line, PROBES)
    assert said in problem.reason


def test_a_time_is_written_to_the_millisecond_also_before_1970():
    assert ["1969-12-31T23:59:59.999Z", "2038-01-19T03:14:08.001Z"] == [iso(-1), iso(2**31 * 1000 + 1)]
