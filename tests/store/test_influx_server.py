"""What a real database server takes and gives, and what is said when it does not.

The published grammar: line protocol and InfluxQL as documented for InfluxDB [memory]; what is checked is the server's own
reading back, which shares no code with the product.
"""

import logging
import math
import signal
from dataclasses import replace

import pytest

from monitor.addresses import Secret
from monitor.errors import BadValue, StoreBroken, StoreBusy, StoreFull
from monitor.readings import DAY, Quality, Reading
from monitor.store.influx_lines import EARLIEST, FIELDS, LATEST, line_of, refuse_name, sendable, where
from monitor.store.influx_server import LONGEST, Server
from parts.influx import Influx, Victoria
from parts.kept import T0, numbered, reading

BEFORE_1970, AFTER_2038 = -5 * DAY - 1, 2**31 * 1000 + 1


@pytest.fixture(scope="module")
def influx():
    with Influx(user=("ann", "pass:word")) as running:
        yield running


@pytest.fixture
def database(influx, request):
    return influx.database(f"d{abs(hash(request.node.name))}")


def question(probe, site="orchard"):
    return f'SELECT {FIELDS} FROM "reading" WHERE {where(site, [probe])}'


NAMES = ["fig-west", "two words", "a,b=c", "quote'\"", "back\\slash", "é温度", "#x", "1", "select"]


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_read_back_by_the_server_as_it_is(influx, database, name):
    server = Server(database)
    server.write([line_of(name, name, reading(name))])
    (series,) = influx.query('SELECT "value" FROM "reading" GROUP BY "probe", "site"', database.bucket)
    assert {"probe": name, "site": name} == series["tags"]
    ((_, rows),) = server.ask([question(name, name)])[0]
    assert [[T0, 21.0, 0, 0, 0, 0]] == rows


@pytest.mark.parametrize("name", ["", "a\nb", "a\rb", "a\0", "ends\\"])
def test_a_name_that_no_line_can_hold_is_refused(name):
    with pytest.raises(BadValue, match="cannot be the name of a series"):
        refuse_name(name)


@pytest.mark.parametrize("at", [EARLIEST, BEFORE_1970, -1, 0, 1, AFTER_2038, LATEST])
def test_times_before_1970_and_after_2038_come_back_to_the_millisecond(influx, database, at):
    Server(database).write([line_of("orchard", "p", Reading("p", at, 1.5, at))])
    assert [[at, 1.5]] == influx.query('SELECT "value" FROM "reading"', database.bucket)[0]["values"]


def test_what_the_server_cannot_hold_is_known_beforehand():
    assert [False, True, True, False] == [
        sendable(Reading("p", at, 1, at)) for at in (EARLIEST - 1, EARLIEST, LATEST, LATEST + 1)
    ]


@pytest.mark.parametrize("value", [0.0, -127.0, 21.0625, 1e-4, 1e14, -(2**63) / 10_000])
def test_every_value_comes_back_exactly_and_stays_a_float(influx, database, value):
    Server(database).write([line_of("orchard", "p", reading("p", value=value)), "reading,probe=p value=20.5 1"])
    assert value in [row[1] for row in influx.query('SELECT "value" FROM "reading"', database.bucket)[0]["values"]]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_never_comes_so_far(value):
    with pytest.raises(BadValue, match="is not a number"):
        reading(value=value)


def test_the_server_by_itself_would_take_the_last_value(influx, database):
    """Why the store compares before it sends."""
    server = Server(database)
    server.write([line_of("orchard", "p", reading("p", value=21))])
    server.write([line_of("orchard", "p", reading("p", value=22))])
    assert [[T0, 22]] == influx.query('SELECT "value" FROM "reading"', database.bucket)[0]["values"]


def test_more_questions_than_one_address_can_carry_are_answered_in_their_order(database):
    server = Server(database)
    names = [f"probe-{n}" for n in range(150)]
    server.write([line_of("orchard", name, reading(name, value=n)) for n, name in enumerate(names)])
    asked = [question(name) for name in names]
    assert len(";".join(asked)) > 2 * LONGEST
    assert list(range(150)) == [rows[0][1] for ((_, rows),) in server.ask(asked)]


@pytest.mark.parametrize(
    ("wrong", "kind", "said"),
    [
        ({"bucket": "nobody"}, StoreBroken, r"does not know nobody .*`vermistat database set-up` makes it"),
        ({"token": Secret("ann:guess")}, StoreBroken, "refuses the token"),
        ({"token": None}, StoreBroken, "refuses the token"),
        ({"url": "http://127.0.0.1:9"}, StoreBusy, "does not answer"),
    ],
)
def test_what_is_said_when_it_does_not_take_a_line(database, wrong, kind, said):
    with pytest.raises(kind, match=said) as told:
        Server(replace(database, **wrong)).write(["reading value=1 1"])
    assert "guess" not in str(told.value)


@pytest.mark.parametrize(
    ("answer", "kind", "said"),
    [
        ((200, b"<html>welcome</html>"), StoreBroken, "not as an InfluxDB does"),
        ((500, b'{"error":"engine: write /d: no space left on device"}'), StoreFull, "no room left on its disk"),
        ((503, b'{"error":"timeout"}'), StoreBusy, "asks for patience"),
        ((429, b""), StoreBusy, "asks for patience"),
        ((413, b""), StoreBroken, "takes less in one write"),
        ((400, b'{"error":"field type conflict"}'), StoreBroken, "refuses what it is sent .*field type conflict"),
    ],
)
def test_what_is_said_of_each_answer_to_a_write(influx, database, answer, kind, said):
    influx.said = answer
    try:
        with pytest.raises(kind, match=said):
            Server(database).write(["reading value=1 1"])
    finally:
        influx.said = None


@pytest.mark.parametrize(
    "body", [b"", b"<html>", b"[]", b"{}", b'{"results":7}', b'{"results":[]}', b'{"results":[{"series":[7]}]}']
)
def test_a_page_that_is_no_answer_is_called_so(influx, database, body):
    influx.said = 200, body
    try:
        with pytest.raises(StoreBroken, match="not as an InfluxDB does"):
            Server(database).ask(["SELECT value FROM reading"])
    finally:
        influx.said = None


def test_a_server_that_hangs_is_waited_for_so_long_and_no_longer():
    with Influx() as slow:
        server = Server(slow.database(), timeout=0.3)
        slow.freeze()
        with pytest.raises(StoreBusy, match="does not answer"):
            server.write(["reading value=1 1"])
        slow.thaw()
        server.write(["reading value=1 1"])


def test_what_the_server_answered_is_there_after_it_is_killed():
    with Influx() as running:
        database = running.database()
        given = [reading("p", minute, minute) for minute in range(100)]
        Server(database).write([line_of("orchard", "p", r) for r in given])
        running.stop(signal.SIGKILL)
        running.start()
        assert [[100]] == [
            r[1:] for r in running.query('SELECT count("value") FROM "reading"', "worms")[0]["values"]
        ]


def test_another_server_of_the_same_write_path_reads_the_same_values():
    with Victoria() as running:
        given = numbered([reading("p", n, n / 16, quality=Quality.STALE, own_time=True) for n in range(-20, 20)])
        Server(running.database()).write([line_of("orchard", "p q", r) for r in given])
        found = running.exported('{probe="p q",site="orchard"}')
        assert {
            "reading_value": [(r.at, r.value) for r in given],
            "reading_quality": [(r.at, int(r.quality)) for r in given],
            "reading_own": [(r.at, 1) for r in given],
            "reading_after": [(r.at, 0) for r in given],
            "reading_arrival": [(r.at, r.arrival) for r in given],
        } == {dict(labels)["__name__"]: rows for labels, rows in found.items()}


def test_one_connection_serves_all_writes_and_questions(database):
    server = Server(database)
    for n in range(5):
        server.write([f"reading,probe=p value={n} {n}"])
        server.ask(['SELECT "value" FROM "reading"'])
    manager = server._client.api_client.rest_client.pool_manager
    assert [1] == [manager.pools.get(key).num_connections for key in manager.pools.keys()]  # noqa: SIM118
    server.close()


def test_what_others_have_hushed_stays_hushed(database, monkeypatch):
    """urllib3 warns with whole addresses, also with those of channels."""
    chatty = logging.getLogger("urllib3")
    monkeypatch.setattr(chatty, "level", chatty.level)
    chatty.setLevel(logging.ERROR)
    Server(database).close()
    assert logging.ERROR == chatty.level
