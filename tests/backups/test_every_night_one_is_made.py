"""By the daemon: at once when there is none, then every night; tried again when it fails, and told when that goes on."""

import threading

import pytest

from cli.keeping import NOW
from monitor.checks.findings import Condition
from monitor.checks.system import DELAYS, System
from monitor.errors import RequestError
from monitor.nightly import AGAIN_AFTER, LONGEST, Nightly
from monitor.readings import DAY, HOUR, MINUTE
from monitor.settings import load
from parts.house import House
from parts.orchard import ms


class Steps:
    """A patience whose waiting ends when the test says so. `of` is the only thread that looks."""

    def __init__(self):
        self.seconds = 0.0
        self._go, self._done = threading.Semaphore(0), threading.Semaphore(0)
        self._first = True

    def now(self):
        return self.seconds

    def wait(self, event, seconds):
        if threading.current_thread().name != "nightly":
            return event.wait(seconds)
        if seconds < 60 and not self._looking(seconds):
            return event.is_set()
        if not self._first:
            self._done.release()
        self._first = False
        self._go.acquire()
        return event.is_set()

    @staticmethod
    def _looking(seconds):
        return seconds == 60.0

    def look(self):
        """One look of the thread, from its beginning to its end."""
        self._go.release()
        assert self._done.acquire(timeout=20)

    def end(self, nightly):
        nightly._stopping.set()
        self._go.release()
        nightly.stop()


class Bench:
    """A site with `backup:`, its nightly thread, and its clocks in our hands."""

    def __init__(self, site):
        self.at, self.steps, self.trouble = NOW, Steps(), None
        self.stick = site.folder / "stick"
        self.stick.mkdir()
        self._site = site
        self.nightly = Nightly(self.settings(), now=lambda: self.at, patience=self.steps)
        self.nightly.start()

    def settings(self, text="backup: {to: stick, same_disk: true}\n"):
        self._site.file.write_text(self._site.file.read_text().split("backup:")[0] + text)
        return load([self._site.file], environ={})

    def look(self, *, minutes=1):
        self.at += minutes * MINUTE
        self.steps.seconds += minutes * 60
        self.steps.look()
        return self

    @property
    def made(self):
        return sorted(one.name for one in self.stick.glob("vermistat-orchard-*"))


@pytest.fixture
def bench(site):
    found = Bench(site)
    yield found
    found.steps.end(found.nightly)


def test_the_first_at_once_and_the_next_in_the_night(bench):
    assert ["vermistat-orchard-20261125T120100Z"] == bench.look().made
    assert 1 == len(bench.look(minutes=14 * 60).made)
    bench.at = ms("12:00") + 15 * HOUR + 29 * MINUTE
    assert 1 == len(bench.look(minutes=0).made)
    assert "vermistat-orchard-20261126T033000Z" == bench.look().made[-1]
    assert 2 == len(bench.look().made)


def test_a_place_that_is_not_there_is_failing_until_it_is_and_tried_every_hour(bench):
    bench.stick.rmdir()
    began = bench.look().at
    since, why = bench.nightly.failing()
    assert (began, True) == (since, "stick is not there" in why)
    bench.stick.mkdir()
    bench.look()
    assert bench.nightly.failing() is not None, "not tried again yet"
    bench.look(minutes=AGAIN_AFTER / 60)
    assert (None, 1) == (bench.nightly.failing(), len(bench.made))


def test_the_first_failure_of_several_says_since_when(bench):
    bench.stick.rmdir()
    began = bench.look().at
    for _ in range(3):
        bench.look(minutes=60)
    assert began == bench.nightly.failing()[0]


def test_undecided_until_one_was_made_or_it_has_failed_for_long(bench):
    assert bench.nightly.undecided
    bench.stick.rmdir()
    bench.look()
    assert bench.nightly.undecided
    bench.look(minutes=60).look(minutes=60)
    assert not bench.nightly.undecided
    bench.stick.mkdir()
    bench.look(minutes=60)
    assert (False, None) == (bench.nightly.undecided, bench.nightly.failing())


def test_one_that_does_not_end_counts_as_failing(site, monkeypatch):
    bench, began, ends = None, threading.Event(), threading.Event()

    def hangs(*_, **__):
        began.set()
        ends.wait(20)
        raise RequestError("given up")

    (site.folder / "hook").mkdir()
    bench = Bench(site)
    bench.nightly._make = hangs
    bench.steps._go.release()
    assert began.wait(20)
    assert bench.nightly.failing() is None
    bench.at += LONGEST + 1
    assert (NOW, "does the place answer?") == (bench.nightly.failing()[0], bench.nightly.failing()[1][-22:])
    ends.set()
    assert bench.steps._done.acquire(timeout=20)
    bench.steps.end(bench.nightly)


def test_settings_without_it_make_none_and_end_the_failing(bench):
    bench.stick.rmdir()
    bench.look()
    bench.nightly.use(bench.settings(""))
    assert (None, False) == (bench.nightly.failing(), bench.nightly.undecided)
    bench.stick.mkdir()
    assert [] == bench.look(minutes=90).made
    bench.nightly.use(bench.settings())
    assert 1 == len(bench.look().made)


def test_the_nights_are_rotated(bench):
    bench.nightly.use(bench.settings("backup: {to: stick, same_disk: true, keep: {days: 3, weeks: 0}}\n"))
    for _ in range(5):
        bench.look(minutes=24 * 60)
    assert 3 == len(bench.made)


def test_a_fault_of_ours_is_told_and_the_thread_lives_on(bench):
    make = bench.nightly._make
    bench.nightly._make = lambda *_, **__: 1 / 0
    bench.look()
    assert "a fault of this program (ZeroDivisionError)" == bench.nightly.failing()[1]
    bench.nightly._make = make
    assert 1 == len(bench.look(minutes=60).made)


# What is said of it


def with_failing(house, since, *, undecided=False):
    house.system = System(
        backup_failing=None if since is None else (since, "/mnt/stick is not there"), backup_undecided=undecided
    )
    return house


def notices(house):
    return [(post.notice.slot, post.notice.title) for post in house.store.notices()]


def test_it_is_told_after_two_hours_and_over_when_one_is_made():
    house = House()
    with_failing(house, house.at).say(fig_west=24.0)
    house.later(hours=2)
    house.at -= 1
    house.say(fig_west=24.0)
    assert [] == house.steps(Condition.BACKUP_FAILING)
    house.at += 1
    house.say(fig_west=24.0)
    assert [("", "backup failing", "raised")] == house.steps(Condition.BACKUP_FAILING)
    assert 2 * HOUR == DELAYS[Condition.BACKUP_FAILING]
    (title,) = {t for _, t in notices(house) if "backup" in t}
    assert title.startswith("Vermistat: see to the disk that takes the backups")
    with_failing(house, None).later(15).say(fig_west=24.0)
    assert "returned" == house.steps(Condition.BACKUP_FAILING)[-1][2]


def test_a_restart_neither_ends_nor_repeats_it():
    house = House()
    with_failing(house, house.at - 3 * HOUR).say(fig_west=24.0)
    house.restart()
    with_failing(house, None, undecided=True).later(15).say(fig_west=24.0)
    with_failing(house, house.at, undecided=True).later(15).say(fig_west=24.0)
    assert [("", "backup failing", "raised")] == house.steps(Condition.BACKUP_FAILING)
    with_failing(house, None).later(15).say(fig_west=24.0)
    assert ["raised", "returned"] == [event for _, _, event in house.steps(Condition.BACKUP_FAILING)]


def test_a_night_s_failure_wakes_nobody_and_is_told_in_the_morning():
    house = House(at=ms("03:30"))
    with_failing(house, house.at).say(fig_west=24.0)
    while house.at < ms("10:00"):
        house.later(15).say(fig_west=24.0)
    told = [post.notice for post in house.store.notices() if "backup" in post.notice.title + post.notice.body]
    assert told
    assert all(ms("06:00") <= one.at <= ms("10:00") for one in told), [
        (one.at - ms("00:00")) / HOUR for one in told
    ]
    assert DAY > 0
