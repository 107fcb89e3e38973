"""`KnownClock` over the machine's clocks, and what the machine itself says of them."""

from pathlib import Path

import pytest

from monitor import clock
from monitor.clock import KnownClock, Machine, boot_id, kernel_synchronised, set_by_hardware, time_since_boot
from monitor.readings import DAY, HOUR, MINUTE
from monitor.reckoning import Belief, Reckoning

T = 1_795_600_000_000


class Hands:
    """Clocks that a test moves."""

    def __init__(self, wall=T, ran=HOUR):
        self.wall, self.ran = wall, ran

    def machine(self):
        return Machine(wall=lambda: self.wall, ran=lambda: self.ran, synced=lambda: False, boot=lambda: "one")

    def pass_(self, ms):
        self.wall, self.ran = self.wall + ms, self.ran + ms


def known(hands, belief=Belief.BELIEVED):
    return KnownClock(hands.machine(), Reckoning("one", belief, T, HOUR))


def test_a_clock_that_is_believed_follows_the_wall_also_in_small_steps():
    hands = Hands()
    ours = known(hands)
    hands.pass_(MINUTE)
    hands.wall -= 5 * MINUTE
    assert T - 4 * MINUTE == ours.now()


@pytest.mark.parametrize("step", [-DAY, DAY])
def test_a_step_is_not_followed_before_somebody_has_looked(step):
    hands = Hands()
    ours = known(hands)
    hands.pass_(MINUTE)
    hands.wall += step
    assert T + MINUTE == ours.now()
    ours.adopt(Reckoning("one", Belief.BELIEVED, hands.wall, hands.ran))
    assert T + MINUTE + step == ours.now()


def test_an_unsure_clock_does_not_look_at_the_wall():
    hands = Hands()
    ours = known(hands, Belief.UNSURE)
    hands.pass_(MINUTE)
    hands.wall -= 2 * MINUTE
    assert T + MINUTE == ours.now()


def test_the_boot_has_one_name_and_its_time_only_rises():
    assert boot_id() == Path("/proc/sys/kernel/random/boot_id").read_text().strip() == boot_id() != ""
    seen = [time_since_boot() for _ in range(1000)]
    assert sorted(seen) == seen
    assert abs(float(Path("/proc/uptime").read_text().split()[0]) * 1000 - time_since_boot()) < 60_000


def test_a_service_from_which_the_boot_is_hidden_is_told_it_by_its_unit(monkeypatch):
    told = boot_id()
    monkeypatch.setattr(Path, "read_text", lambda self, **_: (_ for _ in ()).throw(FileNotFoundError(str(self))))
    assert "" == boot_id()
    monkeypatch.setenv("VERMISTAT_BOOT", told.replace("-", ""))
    assert told == boot_id()


class Kernel:
    """Answers adjtimex(2)."""

    def __init__(self, state, status):
        self.state, self.status = state, status

    def adjtimex(self, asked):
        asked._obj.status = self.status
        return self.state


@pytest.mark.parametrize(
    ("state", "status", "expected"),
    [(0, 0x2001, True), (0, 0x0040, False), (5, 0x0040, False), (5, 0x2001, False), (-1, 0, False), (1, 1, True)],
)
def test_the_kernels_word_is_read_as_adjtimex_gives_it(monkeypatch, state, status, expected):
    """STA_UNSYNC is 0x0040 and TIME_ERROR 5 in <sys/timex.h> (adjtimex(2))."""
    monkeypatch.setattr(clock.ctypes, "CDLL", lambda _: Kernel(state, status))
    assert expected is kernel_synchronised()


def test_a_machine_that_cannot_be_asked_proves_nothing(monkeypatch):
    monkeypatch.setattr(clock.ctypes, "CDLL", lambda _: object())
    assert kernel_synchronised() is False


@pytest.mark.parametrize(("said", "expected"), [({"rtc0": "1\n"}, True), ({"rtc0": "0\n"}, False), ({}, False),
                                                ({"rtc0": "0\n", "rtc1": "1\n"}, True)])  # fmt: skip
def test_whether_a_hardware_clock_gave_the_time_is_read_where_the_kernel_says_it(
    tmp_path, monkeypatch, said, expected
):
    for name, word in said.items():
        (tmp_path / name).mkdir()
        (tmp_path / name / "hctosys").write_text(word)
    (tmp_path / "rtc9").mkdir()
    real = clock.Path
    monkeypatch.setattr(clock, "Path", lambda where: tmp_path if where == "/sys/class/rtc" else real(where))
    assert expected is set_by_hardware()


def test_asking_the_kernel_changes_nothing_and_needs_no_rights():
    assert kernel_synchronised() in (True, False)
    seen = Machine().seen()
    assert seen.wall > T - 100 * 365 * DAY
    assert seen.ran > 0
