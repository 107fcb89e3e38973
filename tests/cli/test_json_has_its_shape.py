"""Every `--json` is exactly what `monitor.reports.shapes` documents: nothing missing, nothing more, no other type.

Held by pydantic, strict and with further keys forbidden, so the shapes are checked by somebody else's code.
"""

import json
import types
import typing

import pytest
from pydantic import ConfigDict, TypeAdapter, ValidationError, with_config
from typing_extensions import TypedDict

from cli.keeping import NOW, Site, cold
from monitor.cli.calls import parser
from monitor.readings import MINUTE, Reading, Refusal, RefusalKind, Undated
from monitor.reports import alarm_shapes, backing, bed_shapes, caring, post_shapes, shapes, verdicts, week_shapes
from monitor.store.promises import Batch


def strict(kind):
    """The same shape with everything forbidden that it does not name."""
    if typing.is_typeddict(kind):
        fields = {name: strict(hint) for name, hint in typing.get_type_hints(kind).items()}
        return with_config(ConfigDict(extra="forbid", strict=True))(TypedDict(kind.__name__, fields))
    origin, parts = typing.get_origin(kind), [strict(part) for part in typing.get_args(kind)]
    if origin is list:
        return list[parts[0]]
    if origin in (types.UnionType, typing.Union):
        return typing.Union[tuple(parts)]  # noqa: UP007
    return kind


def fits(facts, shape):
    TypeAdapter(strict(shape)).validate_python(facts, strict=True)


def full(site):
    """A store with something in every list there is."""
    with site.lived() as house:
        warmer = site.file.read_text().replace(
            "    worms: 2 kg", "    limits: {temperature: {comfort: 22..29 °C}}\n    worms: 2 kg"
        )
        site.taken_up(warmer, store=house.store)
        cold(house, plum_near=29.0)
        house.keep(Reading("fig-west", NOW + 1, -127.0, NOW))
        refused = Refusal("probes/fig", None, RefusalKind.NOT_JSON, "no JSON", b"\xff", NOW)
        house.store.keep(Batch(refusals=[refused], undated=[Undated("plum-near", 8.0, NOW)]))
        house.store.ask(NOW, "ana", "done", 1, "two blankets")
        house.store.ask(NOW, "ana", "shelve", 1, "the mat comes", body='{"for": 3600000}')
        house.store.ask(NOW, "ben", "working", body='{"for": 3600000, "bin": "plum"}')
        house.rounds.run()
        house.store.failed(1, "mail", NOW + MINUTE, "451")


COMMANDS = [
    (("now",), shapes.NowShape),
    (("alarms",), shapes.AlarmsShape),
    (("alarms", "--journal", "--since", "2026-11-20"), alarm_shapes.JournalShape),
    (("alarms", "--review", "--days", "7"), alarm_shapes.ReviewShape),
    (("week",), week_shapes.WeekShape),
    (("week", "--of", "2026-11-25"), week_shapes.WeekShape),
    (("notices",), post_shapes.NoticesShape),
    (("notices", "1"), post_shapes.NoticesShape),
    (("why", "1", "--person", "ana"), shapes.WhyShape),
    (("why", "1"), shapes.WhyShape),
    (("why", "2"), shapes.WhyShape),
    (("check",), shapes.CheckShape),
    (("settings",), shapes.SettingsShape),
    (("settings", "1"), shapes.VersionShape),
    (("clock",), shapes.ClockStateShape),
    (("clock", "--right", "--as", "ana"), shapes.ClockStateShape),
    (("species",), shapes.SpeciesListShape),
    (("species", "eudrilus-eugeniae"), shapes.SpeciesListShape),
    (("seen", "2", "--as", "ana"), shapes.AskedShape),
    (("done", "2", "a few words", "--as", "ben"), shapes.AskedShape),
    (("shelve", "2", "--for", "4h", "--as", "ben"), shapes.AskedShape),
    (("later", "2", "--as", "ben"), shapes.AskedShape),
    (("unshelve", "1", "--as", "ana"), shapes.AskedShape),
    (("working", "fig", "--for", "3h", "--as", "ana"), shapes.AskedShape),
    (("squeeze", "fig.west", "drops", "--at", "yesterday 18:00", "--as", "ana"), shapes.SqueezeShape),
    (("probes",), shapes.ProbesShape),
    (("probes", "--bin", "fig"), shapes.ProbesShape),
    (("squeeze", "plum", "runs", "--as", "ben"), shapes.SqueezeShape),
    (("needless", "1", "--as", "ana"), verdicts.CalledSoShape),
    (("useful", "1", "--as", "ana"), verdicts.CalledSoShape),
    (("verdicts",), verdicts.VerdictsShape),
    (("care",), caring.CaresShape),
    (("care", "fig"), caring.CaresShape),
    (("forecast",), bed_shapes.ForecastShape),
    (("forecast", "--bin", "fig"), bed_shapes.ForecastShape),
    (("learned",), bed_shapes.LearnedShape),
    (("learned", "--reset", "fig.west", "--as", "ana"), bed_shapes.LearnedShape),
    (("diary",), shapes.DiaryListShape),
    (("backup",), backing.BackupShape),
    (("diary", "fig", "fed", "1.5 kg", "--as", "ben"), shapes.DiaryListShape),
]


@pytest.mark.parametrize(("words", "shape"), COMMANDS, ids=lambda p: " ".join(p) if isinstance(p, tuple) else "")
@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_output_of_a_full_store_is_its_shape_to_the_letter(tmp_path, noon, capsys, words, shape, units):
    site = Site(tmp_path, units=units)
    full(site)
    fits(site.tells(capsys, *words), shape)


@pytest.mark.parametrize(
    ("words", "shape"), COMMANDS[:4], ids=lambda p: " ".join(p) if isinstance(p, tuple) else ""
)
def test_so_is_that_of_a_store_in_which_nothing_is(site, capsys, words, shape):
    with site.lived():
        pass
    fits(site.tells(capsys, *words), shape)


def test_so_are_settings_that_are_refused(site, capsys):
    site.file.write_text("site: {id: orchard}\nbeds: {}\n")
    capsys.readouterr()
    assert 78 == site.call("check", "--json")
    out, errors = capsys.readouterr()
    facts = json.loads(out)
    fits(facts, shapes.CheckShape)
    assert (False, "", [], None) == (facts["accepted"], errors, facts["explained"], facts["store"])
    assert len(facts["mistakes"]) > 1


def test_every_list_of_the_full_store_holds_something(site, capsys):
    full(site)
    now, why = site.tells(capsys, "now"), site.tells(capsys, "why", "1")
    empty = [key for facts in (now, why) for key, value in facts.items() if value == []]
    assert [] == empty


def spoilt(facts):
    """The same facts with one thing wrong."""
    yield {**facts, "more": 1}
    yield {key: value for key, value in facts.items() if key != "to_do"}
    yield {**facts, "watching": "yes"}
    yield {**facts, "bins": [{**facts["bins"][0], "name": None}]}
    yield {**facts, "bins": [{**facts["bins"][0], "colour": "red"}]}


def test_a_shape_that_does_not_fit_is_found_out(site, capsys):
    full(site)
    wrong = list(spoilt(site.tells(capsys, "now")))
    for facts in wrong:
        with pytest.raises(ValidationError):
            fits(facts, shapes.NowShape)
    assert 5 == len(wrong)


ELSEWHERE = {"export", "import", "database", "replay", "publish", "restore"}
"""Held to what they print where their own tests are: they need another file, or a server."""


def test_every_command_that_takes_json_is_held_to_a_shape():
    commands = next(a.choices for a in parser()._actions if isinstance(a.choices, dict))
    takes = {name for name, sub in commands.items() if "--json" in sub.format_help()}
    assert takes == {words[0] for words, _ in COMMANDS} | ELSEWHERE


def test_every_shape_and_every_field_says_what_it_is():
    for module in (shapes, alarm_shapes):
        for name in dir(module):
            if name.endswith("Shape"):
                assert getattr(module, name).__doc__, name
