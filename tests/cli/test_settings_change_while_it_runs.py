"""End to end: a real broker, the daemon as a process, and an editor beside it that changes the keeper's file."""

import json
import os
import signal

import pytest

from cli.keeping import Site
from cli.running import daemon, until, vermistat
from monitor.store.sqlite import SqliteStore
from parts.mosquitto import Mosquitto
from parts.publisher import publish


@pytest.fixture
def broker():
    with Mosquitto() as running:
        yield running


class Yard(Site):
    """The site, an editor, and what is kept, asked beside the daemon."""

    def edit(self, *pairs, text=None):
        """Written beside the file and renamed over it, as editors do."""
        text = text or self.file.read_text()
        for old, new in pairs:
            assert old in text
            text = text.replace(old, new)
        beside = self.file.with_suffix(".new")
        beside.write_text(text)
        os.replace(beside, self.file)

    def ask(self, question):
        store = SqliteStore(self.store_file, read_only=True)
        try:
            return question(store)
        finally:
            store.close()

    def steps(self, condition):
        return self.ask(
            lambda s: [
                (t.key.subject.id, str(t.event), t.cause) for t in s.transitions() if t.key.condition == condition
            ]
        )

    def heard(self, probe):
        return self.ask(lambda s: [r.value for r in s.window(probe, 0, 2**60)])

    def number(self):
        return self.ask(lambda s: s.in_force().number)


WARM = [
    ("probes/fig-west", b"25"),
    ("probes/fig-east", b"25"),
    ("probes/plum-near", b"18"),
    ("probes/shed-air", b"12"),
]
COLD = [("probes/fig-west", b"11.4"), ("probes/fig-east", b"11.1"), *WARM[2:]]


def test_a_changed_limit_is_judged_by_and_its_alarm_ends_with_that_cause(tmp_path, broker):
    yard = Yard(tmp_path, port=broker.port)
    with daemon(yard.file) as running:
        publish(broker.port, COLD)
        until(lambda: yard.steps("cold"))
        yard.edit(
            (
                "    stands_in: shed\n    worms: 2 kg",
                "    stands_in: shed\n    limits: {temperature: {harm: [{above: 34 °C}], comfort: 5..29 °C}}\n    worms: 2 kg",
            )
        )
        running.says("settings 2 are in force: ")
        raised, ended = until(lambda: found if len(found := yard.steps("cold")) == 2 else None)
        assert ("fig", "raised") == raised[:2]
        assert ("fig", "removed", "limits changed") == ended
        (line,) = [n for n, text in enumerate(yard.file.read_text().splitlines(), 1) if "limits:" in text]
        (row, newest) = yard.ask(lambda s: s.taken_up())
        assert (1, ()) == (row.number, row.amendments)
        low = next(a for a in newest.amendments if a.limit == "comfort from")
        assert ("fig", "", 21.0, 5.0, f"vermistat.yaml:{line}") == (
            low.bin,
            low.zone,
            low.old,
            low.new,
            low.written,
        )
        print_ = yard.ask(lambda s: s.in_force().rules)
        until(lambda: yard.ask(lambda s: s.rounds(1)[0].settings) == print_)
        assert running.process.poll() is None


def test_a_broken_file_is_refused_told_and_changes_nothing_until_it_is_mended(tmp_path, broker):
    yard = Yard(tmp_path, port=broker.port)
    whole = yard.file.read_text()
    with daemon(yard.file) as running:
        yard.edit(("    worms: 2 kg", "    worms: 2 kilometres"), ("species: eisenia-fetida", "species: dragon"))
        running.says("the changed settings are not in force, the earlier ones stay:")
        ((_, event, cause),) = until(lambda: yard.steps("settings refused"))
        told = vermistat("check", "--settings", yard.file)
        assert 78 == told.returncode
        first, second = told.stderr.splitlines()[1:3]
        assert "raised" == event
        assert f"{first} (and 1 more)" in cause
        assert second in running.log
        publish(broker.port, COLD)
        until(lambda: yard.steps("cold"))
        assert 1 == yard.number()
        yard.edit(text=whole)
        ended = until(lambda: found[1:] if len(found := yard.steps("settings refused")) == 2 else None)
        assert "returned" == ended[0][1]
        assert 1 == running.log.count("the changed settings are not in force")
        assert 1 == yard.number()


def test_a_new_probe_is_heard_and_one_that_was_taken_out_is_not(tmp_path, broker):
    yard = Yard(tmp_path, port=broker.port)
    with daemon(yard.file) as running:
        publish(broker.port, WARM)
        until(lambda: yard.heard("shed-air"))
        yard.edit(
            (
                "plum-near: {measures: temperature, topic: probes/plum-near}",
                "plum-far: {measures: temperature, topic: probes/plum-far}",
            )
        )
        running.says("settings 2 are in force")
        # The broker is asked for the new topics after that line, and nothing says when it has answered.
        until(lambda: publish(broker.port, [("probes/plum-far", b"17")]) or yard.heard("plum-far"))
        publish(broker.port, [("probes/plum-near", b"19"), ("probes/shed-air", b"11")])
        until(lambda: len(yard.heard("shed-air")) == 2)
        assert {17.0} == set(yard.heard("plum-far"))
        assert [18.0] == yard.heard("plum-near")
        assert {} == yard.ask(lambda s: s.refusal_counts())
        assert ("bin plum",) != yard.ask(lambda s: s.taken_up()[-1].went)
        assert {"probe plum-near"} == set(yard.ask(lambda s: s.taken_up()[-1].went))


def test_a_probe_and_a_zone_go_on_under_another_id(tmp_path, broker):
    yard = Yard(tmp_path, port=broker.port)
    with daemon(yard.file) as running:
        publish(broker.port, COLD)
        until(lambda: yard.steps("cold"))
        yard.edit(
            ("  fig:\n    name: Fig", "  tree:\n    was: fig\n    name: Fig"),
            ("west: {probes: {fig-west: {measures: temperature, topic: probes/fig-west}}}",
             "lee: {was: west, probes: {fig-lee: {was: fig-west, measures: temperature, topic: probes/fig-west}}}"),
            ("warms: [fig.west", "warms: [tree.lee"),
        )  # fmt: skip
        running.says("settings 2 are in force: no limit changed")
        publish(broker.port, [("probes/fig-west", b"11.3"), *COLD[1:]])
        until(lambda: len(yard.heard("fig-lee")) == 2)
        assert [11.4, 11.3] == yard.heard("fig-lee")
        assert [] == yard.heard("fig-west")
        steps = until(lambda: found if len(found := yard.steps("cold")) == 2 else None)
        assert [("tree", "raised"), ("tree", "renamed")] == [step[:2] for step in steps]
        (standing,) = yard.ask(lambda s: s.load().alarms)
        assert ("tree", 1) == (standing.key.subject.id, standing.number)
        until(lambda: yard.ask(lambda s: s.rounds(1)[0].upto_arrival == s.last_arrival()))
        assert 2 == len(yard.steps("cold"))
    with daemon(yard.file):
        until(lambda: yard.ask(lambda s: s.rounds(1)[0].number) > 3)
        assert 2 == len(yard.steps("cold"))
        assert 2 == yard.number()


def test_what_cannot_change_while_it_runs_asks_for_a_restart_and_the_rest_waits_too(tmp_path, broker):
    yard = Yard(tmp_path, port=broker.port)
    with daemon(yard.file) as running:
        yard.edit(
            (f"mqtt://127.0.0.1:{broker.port}", f"mqtt://localhost:{broker.port}"), ("name: Fig", "name: Tree")
        )
        running.says("`broker.url` cannot change while Vermistat runs. Restart Vermistat to take them up")
        until(lambda: yard.steps("settings refused"))
        assert 1 == yard.number()
    with daemon(yard.file):
        assert 2 == yard.number()
        until(lambda: len(yard.steps("settings refused")) == 2)


def test_a_signal_makes_it_look_at_once(tmp_path, broker):
    yard = Yard(tmp_path, port=broker.port)
    with daemon(yard.file, period=120) as running:
        yard.edit(("name: Plum", "name: Prune"))
        running.process.send_signal(signal.SIGHUP)
        running.says("settings 2 are in force")
        assert running.process.poll() is None


def test_a_new_secret_is_taken_up_and_stands_in_no_log_and_in_no_store(tmp_path, broker):
    yard = Yard(tmp_path, port=broker.port)
    with daemon(yard.file) as running:
        new = tmp_path / "new-url"
        new.write_text("json://127.0.0.1:9/another-word-for-nobody")
        yard.edit(("from_file: mail-url", "from_file: new-url"), ("site:", "# another-word-for-nobody\nsite:"))
        running.says("settings 2 are in force")
        publish(broker.port, COLD)
        running.says("failed (try 1")
        assert "another-word" not in running.log
    assert b"another-word" not in yard.store_file.read_bytes()
    assert "another-word" not in json.dumps(yard.ask(lambda s: s.in_force().files))
