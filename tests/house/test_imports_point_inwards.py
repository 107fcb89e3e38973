"""The house's walls: which room may see which, and which outside library lives where (DEVELOPERS.md, The house)."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2] / "monitor"

TELLING = {
    "notify.notices", "notify.hours", "notify.text", "notify.duty", "notify.evening", "notify.ledger", "notify.habit",
    "notify.escalate", "notify.alive", "notify.desk", "notify.wake", "notify.news", "notify.post", "notify.plan",
    "notify.budget", "notify.weekly",
}  # fmt: skip
ORDER = [
    {"errors"},
    {"readings"},
    {"addresses", "rules", "diary", "beats", "reckoning", "names"},
    {"amendments"},
    {"science", "words"},
    {"moments", "masses", "bed", "charts", "backups"},
    {"checks"},
    {"deeds"},
    {"alarms"},
    {"advice"},
    TELLING,
    {
        "store.promises",
        "history",
        "intake.payloads",
        "intake.quality",
        "intake.shapes",
        "intake.working",
        "intake.outdoors",
        "intake.publishers",
        "shifting",
        "publisher.wired",
        "publisher.faults",
        "publisher.held",
        "publisher.sampling",
    },
    {"asked"},
    {"judge"},
    {"due", "gathering"},
    {"replay"},
    {"clock", "settings", "wire", "systemd", "intake", "store", "notify"},
    {"neighbours", "hourly", "outdoors"},
    {"rounds", "bringing", "keeper", "jotting", "squeezing", "timekeeping"},
    {"accepting", "verdicts"},
    {"reports"},
    {"outward"},
    {"schedule", "simulator", "web", "publisher"},
    {"ready"},
    {"site"},
    {"apart"},
    {"changing", "shipping"},
    {"backing_up"},
    {"restoring", "nightly"},
    {"app"},
    {"stepping"},
    {"january", "demo"},
    {"cli"},
    {"__main__"},
]
PURE = {
    "errors", "science", "readings", "addresses", "rules", "diary", "names", "amendments", "words", "moments", "masses", "deeds",
    "bed", "charts", "backups",
    "checks", "alarms", "advice", "asked", "judge", "due", "gathering", "replay", "reckoning", "shifting", "history",
    "publisher.wired", "publisher.faults", "publisher.held", "publisher.sampling",
    "store.promises", "intake.payloads", "intake.quality", "intake.working", "intake.outdoors", "intake.publishers", *TELLING,
}  # fmt: skip
APART = {"wire", "intake", "store", "notify", "clock", "systemd"}
HOMES = {
    "paho": {"wire", "simulator"},
    "sqlite3": {"store"},
    "apprise": {"notify.send"},
    "yaml": {"settings"},
    "pydantic": {"settings", "store", "reports"},
    "apscheduler": {"schedule"},
    "amqtt": {"simulator"},
    "influxdb_client": {"store"},
    "starlette": {"web"},
    "uvicorn": {"web"},
    "smbus2": {"publisher.sources"},
    "urllib3": {"outdoors", "store"},
    "gpiod": {"publisher.sources"},
    "jinja2": {"web", "reports"},
}
MACHINE = {"socket", "threading", "subprocess", "logging", "os", "sqlite3", "random", "time", "asyncio", "signal"}


def modules():
    return sorted(p for p in ROOT.rglob("*.py") if p != ROOT / "__init__.py")


def name_of(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(p for p in parts if p != "__init__")


def imports_of(path):
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative imports hide where a thing comes from"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def step_of(name):
    """The index in ORDER of the most particular room that holds `name`."""
    parts = name.split(".")
    for length in range(len(parts), 0, -1):
        prefix = ".".join(parts[:length])
        for index, rooms in enumerate(ORDER):
            if prefix in rooms:
                return index, prefix
    raise AssertionError(f"{name} stands in no room of ORDER")


def ours(imported):
    return imported.removeprefix("monitor.") if imported.startswith("monitor.") else None


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_a_room_sees_only_rooms_further_in(path):
    mine, room = step_of(name_of(path))
    for imported in imports_of(path):
        inner = ours(imported)
        if inner is None or inner == "__version__":
            continue
        theirs, other = step_of(inner)
        assert theirs <= mine, f"{name_of(path)} may not see {inner}"
        if room in APART and other in APART:
            assert room == other, (
                f"{name_of(path)} and {inner} are both doors to the outside: app hands them functions"
            )


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_each_outside_library_lives_in_its_own_room(path):
    name = name_of(path)
    for imported in imports_of(path):
        homes = HOMES.get(imported.split(".")[0])
        if homes is not None:
            assert any(name == home or name.startswith(home + ".") for home in homes), f"{name} imports {imported}"


@pytest.mark.parametrize("path", [p for p in modules() if step_of(name_of(p))[1] in PURE], ids=name_of)
def test_pure_rooms_touch_neither_clock_nor_machine(path):
    touched = {i.split(".")[0] for i in imports_of(path)} & MACHINE
    assert touched <= ({"threading"} if name_of(path) == "beats" else set())


@pytest.mark.parametrize("path", modules(), ids=name_of)
def test_nothing_but_the_clock_asks_what_time_it_is(path):
    if name_of(path) == "clock":
        return
    tree = ast.parse(path.read_text())
    asked = {f"{n.value.id}.{n.attr}" for n in ast.walk(tree)
             if isinstance(n, ast.Attribute) and isinstance(n.value, ast.Name)}  # fmt: skip
    forbidden = {"time.time", "time.time_ns", "datetime.utcnow", "date.today", "time.monotonic"}
    # APScheduler wants a wall time for its next run; the schedule hands it one and judges nothing by it.
    allowed = {"schedule": {"datetime.now"}}.get(name_of(path), set())
    assert not (asked & (forbidden | {"datetime.now"})) - allowed
