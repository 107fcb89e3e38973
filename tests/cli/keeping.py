"""A site on disk for the command: settings, a store filled by real rounds, and a wall clock that stands still."""

import json
import re
from contextlib import contextmanager
from pathlib import Path

from monitor.changing import taking_of
from monitor.cli import main
from monitor.readings import HOUR, MINUTE
from monitor.settings import load
from monitor.store.sqlite import SqliteStore
from parts.house import House
from parts.orchard import ms

NOW = ms("12:00")
"""Wednesday 25 November 2026, noon in Lisbon, 7 in the morning in New York."""

SETTINGS = """
site: {id: orchard, name: Orchard shed, timezone: ZONE, units: UNITS}
broker: {url: mqtt://127.0.0.1:PORT}
store: {path: kept.db}
places:
  shed: {probes: {shed-air: {measures: temperature, topic: probes/shed-air, every: 5 min}}}
mats:
  long-mat: {power: 40 W, warms: [fig.west, plum.near], control: hand}
bins:
  fig:
    name: Fig
    species: eudrilus-eugeniae
    stands_in: shed
    worms: 2 kg
    bedding: 35 kg
    vessel: {kind: tub, floor: 0.3 m2, depth: 25 cm, drains: true}
    can: [insulate, move]
    zones:
      west: {probes: {fig-west: {measures: temperature, topic: probes/fig-west}}}
      mat:  {role: at-the-mat, probes: {fig-mat: {measures: temperature, topic: probes/fig-mat}}}
      east:
        probes:
          fig-east: {measures: temperature, topic: probes/fig-east}
          fig-damp:
            measures: moisture
            topic: probes/fig-damp
            calibration: [{counts: 2700, moisture: 12 %}, {counts: 1450, moisture: 80 %}]
  plum:
    name: Plum
    species: eisenia-fetida
    stands_in: shed
    zones: {near: {probes: {plum-near: {measures: temperature, topic: probes/plum-near}}}}
people:
  ana: {evening: "21:00", up: "07:00", channels: [mail]}
  ben: {channels: [mail], hears: [plum]}
channels: {mail: {send_to: {from_file: mail-url}}}
"""
ADDRESS = "json://127.0.0.1:9/the-word-nobody-reads"


class Site:
    """`house` lives in the past and runs rounds; the command is called at NOW."""

    def __init__(self, folder, *, units="metric", zone="Europe/Lisbon", port=1883, text=SETTINGS, began="08:00"):
        self.folder = Path(folder)
        self.file = self.folder / "vermistat.yaml"
        self.file.write_text(text.replace("UNITS", units).replace("ZONE", zone).replace("PORT", str(port)))
        (self.folder / "mail-url").write_text(ADDRESS)
        self.store_file = self.folder / "kept.db"
        self.rules = load([self.file], environ={}).rules
        self._began = began

    @contextmanager
    def lived(self):
        """The house with the daemon's store, which is closed behind it."""
        store = SqliteStore(self.store_file)
        try:
            yield House(rules=self.rules, store=store, at=ms(self._began))
        finally:
            store.close()

    def taken_up(self, *texts, store):
        """The file as it is, and then with each of these texts, taken up by the store an hour after the other."""
        for hour, text in enumerate([None, *texts]):
            if text is not None:
                self.file.write_text(text)
            store.take_up(taking_of(load([self.file], environ={}), store, at=ms(self._began) + hour * HOUR))

    def call(self, *words):
        """The exit code of a command."""
        try:
            where = [] if words[0] == "species" else ["--settings", str(self.file)]
            return main([words[0], *where, *words[1:]])
        except SystemExit as end:
            return end.code

    def says(self, capsys, *words):
        """What a command that ends well prints."""
        capsys.readouterr()
        code = self.call(*words)
        out, errors = capsys.readouterr()
        assert (0, "") == (code, errors)
        return out

    def tells(self, capsys, *words):
        """The JSON of a command that ends well."""
        return json.loads(self.says(capsys, *words, "--json"))

    def refuses(self, capsys, *words):
        """The exit code and the complaint of a command that prints nothing else."""
        capsys.readouterr()
        code = self.call(*words)
        out, errors = capsys.readouterr()
        assert "" == out
        return code, errors


def to_noon(house, *, every=15, **celsius):
    """The same values in a round every so many minutes, the last one at noon."""
    while house.at < NOW:
        house.say(**celsius)
        house.later(every)
    house.at = NOW
    house.say(**celsius)
    return house


def cold(house, **more):
    """A morning below comfort, and in the last round a harm that is told at once; all else is well."""
    well = {"plum_near": 18.0, "shed_air": 3.0, "fig_mat": 24.0, "fig_damp": 1500, **more}
    while house.at < NOW - 15 * MINUTE:
        house.say(fig_west=16.5, fig_east=16.0, **well)
        house.later(15)
    house.at = NOW
    house.say(fig_west=11.4, fig_east=11.1, **well)
    return house


def part(text, title):
    """The lines below a title, up to the next empty line."""
    found = re.search(rf"^{re.escape(title)}\n((?:.+\n?)+)", text, re.MULTILINE)
    assert found, f"there is no part {title!r} in:\n{text}"
    return found.group(1)
