"""The publisher's settings: one YAML file → `Publishing`, or every mistake at once.

Read with the daemon's own tree and readers, but without pydantic: this program is to stay small.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from monitor.addresses import Broker, Secret
from monitor.errors import SettingsError
from monitor.publisher import wired
from monitor.publisher.wired import Buffer, Publishing, Scale, Sends, Wired
from monitor.readings import HOUR, SECOND
from monitor.rules import Units
from monitor.settings import readers as r
from monitor.settings import tree
from monitor.settings.mistakes import Data, Misread, Paper, Path, listed, meant, nearest, quoted
from monitor.settings.places import is_file
from monitor.settings.secrets import Vault

PLACES = (FilePath("config/publisher.yaml"), FilePath("/etc/vermistat/publisher.yaml"))
"""Where they are looked for when none are named, first to last."""


class Key(NamedTuple):
    """One key: how it is read (None: keys stand below it), an example, what it says, and whether it must be there."""

    read: r.Reader[Any] | None
    example: str
    says: str
    needed: bool = False


def _id(text: str, _: Units) -> str:
    if not re.fullmatch(r"[a-z][a-z0-9-]{0,31}", text):
        raise Misread(
            f"{quoted(text)} cannot be an id.", "Use a-z, 0-9 and -, at most 32 of them, a letter first."
        )
    return text


def _chip_id(text: str, _: Units) -> str:
    if re.fullmatch(r"10-[0-9a-f]{12}", text):
        raise Misread("A chip of family 10 counts in another way.", "Use a DS18B20, whose name begins with 28.")
    if not re.fullmatch(r"(22|28|3b|42)-[0-9a-f]{12}", text):
        hint = "Write it as the kernel does, for example 28-0316a2795b1c: `vermistat probes find` lists them."
        raise Misread(f"{quoted(text)} is no name of a 1-wire thermometer.", hint)
    return text


def _matching(pattern: str, what: str, hint: str) -> r.Reader[str]:
    def read(text: str, _: Units) -> str:
        if not re.fullmatch(pattern, text):
            raise Misread(f"{quoted(text)} is no {what}.", hint)
        return text

    return read


def _whole(low: int, high: int, what: str, *, base: int = 10) -> r.Reader[int]:
    def read(text: str, _: Units) -> int:
        try:
            value = int(text, 0 if base == 16 else 10)
        except ValueError:
            value = low - 1
        if not low <= value <= high or not text.isascii():
            ends = f"{low:#04x} to {high:#04x}" if base == 16 else f"{low} to {high}"
            raise Misread(f"{quoted(text)} is no {what}.", f"Write a whole number, {ends}.")
        return value

    return read


def _signed(text: str, _: Units) -> float:
    if not re.fullmatch(r"-?\d{1,12}(\.\d{1,9})?", text.strip(), re.ASCII):
        raise Misread(f"{quoted(text)} is not a plain number.", "Write digits only, without a unit.")
    return float(text)


def _per_kg(text: str, units: Units) -> float:
    value = _signed(text, units)
    if value == 0:
        raise Misread("A kilogram cannot be no counts.", "Weigh something whose mass you know: see the how-to.")
    return value


def _bytes(text: str, _: Units) -> int:
    found = re.fullmatch(r"(\d{1,6}(?:\.\d{1,3})?) ?(kB|MB)", text.strip(), re.ASCII)
    value = int(float(found[1]) * {"kB": 1000, "MB": 1_000_000}[found[2]]) if found else 0
    if not 100_000 <= value <= 1_000_000_000:
        raise Misread(f"{quoted(text)} is no size for it.", "Write for example 4 MB; from 100 kB to 1000 MB.")
    return value


class _Level(Enum):
    HIGH = "high"
    LOW = "low"


class _Pull(Enum):
    UP = "up"
    DOWN = "down"
    NONE = "none"


class _OfAir(Enum):
    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"


class _Protocol(Enum):
    AUTO = "auto"
    FIVE = "5"
    THREE = "3.1.1"


class _Chip(Enum):
    AIR = "SHT3x"
    CONVERTER = "ADS1115"


SECRET = {
    "from_file": Key(r.secret_file, "broker-password", "a file beside this one, or in $CREDENTIALS_DIRECTORY"),
    "from_env": Key(r.environment, "VERMISTAT_PASSWORD", "an environment variable"),
}
BROKER = {
    "url": Key(r.broker_url, "mqtts://broker.local:8883", "the broker, mqtt:// or mqtts://", needed=True),
    "user": Key(r.words(80, "This"), "shed", "the user name"),
    "password": Key(None, "{from_file: broker-password}", "where its password is kept"),
    "ca_file": Key(r.path, "broker.pem", "the certificate to know the broker by"),
    "protocol": Key(r.choice(_Protocol), "auto", "MQTT 5 or 3.1.1; auto asks"),
    "client_id": Key(
        r.words(80, "This"),
        "publisher-shed",
        "our name at the broker, which no two programs share (without it: publisher- and our id)",
    ),
}
BUFFER = {
    "file": Key(r.path, "/var/lib/vermistat-publisher/held", "where unconfirmed readings outlive a restart"),
    "at_most": Key(_bytes, "4 MB", "how much is kept; the oldest goes first, and is counted"),
    "written": Key(r.span(0, HOUR), "10 min", "how long a reading may be unconfirmed before it is written there"),
}
COMMON = {
    "topic": Key(r.topic, "probes/fig-west", "where it is sent (without it: probes/ and its id)"),
    "every": Key(r.span(5 * SECOND, HOUR), "1 min", "how often a value is sent"),
    "samples": Key(_whole(1, 60, "number of readings"), "3", "how many readings make a value"),
}
_AT = Key(
    _matching(r"[A-Za-z0-9:.-]{1,60}", "device", "Write it as the kernel does, for example 1-0044."),
    "1-0044",
    "which device, where several have that name",
)
_DRIVER = _matching(
    r"[A-Za-z0-9_.:-]{1,60}", "name of a driver", "Write what its file `name` says, for example sht3x."
)
_ADDRESS = Key(_whole(0x03, 0x77, "I²C address", base=16), "0x44", "the address on the bus")
_BUS = Key(_whole(0, 99, "bus"), "1", "the number of the bus")
KINDS: Mapping[str, Mapping[str, Key]] = {
    "onewire": {"onewire": Key(_chip_id, "28-0316a2795b1c", "a thermometer on the 1-wire bus")},
    "hwmon": {
        "hwmon": Key(_DRIVER, "sht3x", "a chip that a hwmon driver of the kernel holds"),
        "channel": Key(
            _matching(
                r"temp[1-9]\d?|humidity[1-9]\d?|in\d{1,2}",
                "channel of hwmon",
                "Write temp1, humidity1 or in0: what stands before _input.",
            ),
            "temp1",
            "which of its values",
            needed=True,
        ),
        "at": _AT,
    },
    "iio": {
        "iio": Key(_DRIVER, "ads1015", "a chip that an Industrial I/O driver of the kernel holds"),
        "channel": Key(
            _matching(
                r"temp\d{0,2}|humidityrelative\d{0,2}|voltage\d{1,2}(-voltage\d{1,2})?",
                "channel of Industrial I/O",
                "Write voltage0, temp or humidityrelative: what stands between in_ and _raw or _input.",
            ),
            "voltage0",
            "which of its values",
            needed=True,
        ),
        "at": _AT,
    },
    "i2c": {
        "i2c": Key(r.choice(_Chip, {"sht3x": "SHT3x", "sht31": "SHT3x", "sht30": "SHT3x", "ads1115": "ADS1115"}),
                   "SHT3x", "a chip that no driver of the kernel holds"),
        "bus": _BUS,
        "address": _ADDRESS,
        "measures": Key(r.choice(_OfAir, {"temp": "temperature", "rh": "humidity"}), "humidity", "of an SHT3x: what"),
        "channel": Key(_whole(0, 3, "input of an ADS1115"), "0", "of an ADS1115: which input"),
    },
    "pin": {
        "pin": Key(_whole(0, 999, "line of a GPIO chip"), "17", "a line that says whether something is on"),
        "gpio": Key(_matching(r"/dev/gpiochip\d{1,2}", "GPIO chip", "Write for example /dev/gpiochip0."),
                    "/dev/gpiochip0", "its chip"),
        "on": Key(r.choice(_Level), "high", "the level that means on"),
        "pull": Key(r.choice(_Pull), "none", "the resistor inside the chip"),
    },
}  # fmt: skip
"""Each way of wiring, by the key that names it, with the keys that go with it."""
WEIGHING = {
    "zero": Key(_signed, "84210", "the counts with nothing on the scale", needed=True),
    "per_kg": Key(_per_kg, "21400", "the counts that a kilogram adds", needed=True),
}
TOP = {
    "id": Key(_id, "shed", "this publisher's own name", needed=True),
    "site": Key(_id, "orchard", "the site's id, as in the daemon's settings", needed=True),
    "broker": Key(None, "{url: mqtts://broker.local:8883}", "where it is sent", needed=True),
    "buffer": Key(None, "{file: /var/lib/vermistat-publisher/held}", "where unconfirmed readings wait"),
    "probes": Key(None, "{fig-west: {onewire: 28-0316a2795b1c}}", "what is wired here, by id", needed=True),
}


def find(explicit: FilePath | None) -> FilePath:
    """The file that is named, else the first of PLACES that is there. Raises SettingsError."""
    if explicit is not None:
        return explicit
    there = next((place for place in PLACES if is_file(place)), None)
    if there is None:
        raise SettingsError([f"{PLACES[0]}:1:1: There are no settings. Write this file, or give --settings FILE."])
    return there


def load(path: FilePath, *, environ: Mapping[str, str]) -> Publishing:
    """Settings out of one file. Raises SettingsError with every mistake, in order of their lines."""
    data, spots, mistakes = tree.read(path)
    if data is not None:
        paper = Paper(data, spots)
        made = _Reading(paper, Vault(environ)).whole()
        mistakes = [*mistakes, *paper.mistakes]
        if made is not None and not mistakes:
            return made
    raise SettingsError([str(m) for m in sorted(mistakes)], [str(path)])


@dataclass(frozen=True, slots=True)
class _From:
    """Where a secret is written down."""

    from_file: str | None = None
    from_env: str | None = None


class _Reading:
    """One paper on its way; every mistake is noted, and reading goes on."""

    def __init__(self, paper: Paper, vault: Vault) -> None:
        self._paper, self._vault = paper, vault

    def whole(self) -> Publishing | None:
        """Everything, or None when something is wrong with it."""
        top = self._keys((), TOP)
        broker, buffer = self._broker(top), self._buffer(top)
        probes = self._probes()
        if self._paper.mistakes or broker is None:
            return None
        return Publishing(top["id"], top["site"], broker, probes, buffer)

    # Keys and values

    def _keys(self, path: Path, known: Mapping[str, Key], *, among: str = "") -> dict[str, Any]:
        """What stands below `path`, read; what is wrong, missing or unknown is noted. `among` names what these keys are for."""
        found: dict[str, Any] = {}
        raw = self._paper.raw(*path) if path else self._paper.data
        if not isinstance(raw, dict):
            hint = "Write `key: value` lines, indented, or {key: value}."
            self._wrong(path, f"Keys are expected here: {listed(known, 'and')}.", hint)
            return found
        missing = {name for name, key in known.items() if key.needed and name not in raw}
        for name, value in raw.items():
            if name not in known:
                missing.discard(nearest(name, known) or "")
                said = (
                    f"{quoted(name)} is not known here."
                    if not among
                    else f"{quoted(name)} does not go with {among}."
                )
                self._paper.wrong((*path, name), said, meant(name, known), key=True)
                continue
            read = self._value((*path, name), value, known[name])
            if read is not None:
                found[name] = read
        for name in known:
            if name in missing:
                self._wrong(
                    path, f"`{name}` is missing here.", f"Write for example `{name}: {known[name].example}`."
                )
        return found

    def _value(self, path: Path, value: Data, key: Key) -> Any:
        name = quoted(path[-1])
        if value is None:
            self._wrong(path, f"Nothing stands behind {name}.", "Write what belongs there or delete the line.")
        elif key.read is None:
            return value
        elif not isinstance(value, str):
            self._wrong(path, "One value is expected here, not several.", f"Write for example {key.example}.")
        else:
            try:
                return key.read(value, Units.METRIC)
            except Misread as misread:
                self._wrong(path, misread.sentence, misread.hint)
        return None

    def _wrong(self, path: Path, sentence: str, hint: str) -> None:
        self._paper.misread(path)
        self._paper.wrong(path, sentence, hint)

    # Sections

    def _broker(self, top: Mapping[str, Any]) -> Broker | None:
        if "broker" not in top:
            return None
        keys = self._keys(("broker",), BROKER)
        password = self._password() if "password" in keys else None
        ca_file = self._beside(("broker", "ca_file"), keys.get("ca_file"))
        if ca_file is not None and not is_file(ca_file):
            self._wrong(("broker", "ca_file"), "There is no such CA file.", "It is looked for beside this file.")
        if "password" in keys and "user" not in keys and not self._paper.raw("broker", "user"):
            self._wrong(("broker", "password"), "A password is written without `user`.", "Write whose it is.")
        if "url" not in keys:
            return None
        host, port, tls = keys["url"]
        protocol = keys.get("protocol", _Protocol.AUTO).value
        client_id = keys.get("client_id") or f"publisher-{top.get('id', '')}"
        ca = None if ca_file is None else str(ca_file)
        return Broker(host, port, tls, ca, keys.get("user"), password, protocol, client_id, window=100)

    def _password(self) -> Secret | None:
        path: Path = ("broker", "password")
        if isinstance(self._paper.raw(*path), str):
            hint = "Write {from_file: name} or {from_env: NAME} instead."
            self._wrong(path, "A secret does not stand in this file.", hint)
            return None
        keys = self._keys(path, SECRET)
        return self._vault.fetch(self._paper, path, _From(keys.get("from_file"), keys.get("from_env")))

    def _beside(self, path: Path, name: str | None) -> FilePath | None:
        return None if name is None else FilePath(self._paper.spots.find(path).file).parent / name

    def _buffer(self, top: Mapping[str, Any]) -> Buffer:
        if "buffer" not in top:
            return Buffer()
        keys = self._keys(("buffer",), BUFFER)
        plain = Buffer()
        file = self._beside(("buffer", "file"), keys.get("file"))
        if "written" in keys and file is None and self._paper.raw("buffer", "file") is None:
            self._wrong(
                ("buffer", "written"), "`written` is written without `file`.", "Name a file, or delete this."
            )
        return Buffer(file, keys.get("at_most", plain.at_most), keys.get("written", plain.written))

    def _probes(self) -> dict[str, Wired]:
        raw = self._paper.raw("probes")
        if raw is None:
            return {}
        if not isinstance(raw, dict) or not raw:
            hint = "Write for example `fig-west:` and, indented below it, `onewire: 28-0316a2795b1c`."
            self._wrong(("probes",), "Ids are expected here.", hint)
            return {}
        found: dict[str, Wired] = {}
        topics: dict[str, str] = {}
        for name in raw:
            probe = self._probe(name)
            if probe is None:
                continue
            other = topics.setdefault(probe.topic, name)
            if other != name:
                hint = "Give each probe a topic of its own."
                self._paper.wrong(("probes", name), f"{quoted(other)} is sent to the same topic.", hint, key=True)
            found[name] = probe
        self._wired_once(found)
        return found

    def _wired_once(self, probes: Mapping[str, Wired]) -> None:
        places: dict[wired.Place, str] = {}
        for name, probe in probes.items():
            other = places.setdefault(probe.place, name)
            if other != name:
                hint = "Look at what is wired where."
                self._paper.wrong(("probes", name), f"{quoted(other)} is wired to the same place.", hint, key=True)

    def _probe(self, name: str) -> Wired | None:
        path: Path = ("probes", name)
        try:
            _id(name, Units.METRIC)
        except Misread as misread:
            self._paper.wrong(path, misread.sentence, misread.hint, key=True)
            return None
        written = self._paper.keys(*path)
        kinds = [kind for kind in KINDS if kind in written]
        if len(kinds) != 1:
            if not isinstance(self._paper.raw(*path), dict):
                self._wrong(path, "Keys are expected here.", "Write for example {onewire: 28-0316a2795b1c}.")
            elif kinds:
                self._wrong(path, f"It is wired in two ways: {listed(kinds, 'and')}.", "Keep one of them.")
            else:
                kind = next((near for key in written if (near := nearest(key, KINDS, at_least=0.7))), None)
                hint = f"Did you mean {kind}?" if kind else f"Write {listed(KINDS)}, and what belongs to it."
                self._wrong(path, "How it is wired is missing here.", hint)
            return None
        weighs = WEIGHING if {"zero", "per_kg"} & set(written) else {}
        keys = self._keys(path, {**KINDS[kinds[0]], **weighs, **COMMON}, among=f"`{kinds[0]}`")
        if not self._paper.whole(path) or any(key not in {*KINDS[kinds[0]], *weighs, *COMMON} for key in written):
            return None
        return self._wired(name, kinds[0], keys)

    def _wired(self, name: str, kind: str, keys: Mapping[str, Any]) -> Wired | None:
        made = _MAKE[kind](keys)
        path: Path = ("probes", name)
        if isinstance(made, Misread):
            self._wrong(path, made.sentence, made.hint)
            return None
        place, sends = made
        scale = None
        if "zero" in keys:
            if sends is not Sends.COUNTS:
                self._wrong((*path, "zero"), "Only a voltage can be a scale.", "Delete `zero` and `per_kg`.")
                return None
            scale, sends = Scale(keys["zero"], keys["per_kg"]), Sends.KILOGRAM
        samples = keys.get("samples", 1 if sends is Sends.SWITCH else 3)
        every = keys.get("every", 60 * SECOND)
        if every < samples * 1.5 * SECOND:
            hint = "A 1-wire thermometer takes up to 0.75 s for each; leave it twice that."
            self._wrong(path, f"{samples} readings do not fit into {every / SECOND:g} s.", hint)
            return None
        return Wired(name, place, sends, keys.get("topic", f"probes/{name}"), every, samples, scale)


Made = tuple[wired.Place, Sends] | Misread


def _onewire(keys: Mapping[str, Any]) -> Made:
    return wired.OneWire(keys["onewire"]), Sends.CELSIUS


def _kernel(room: str) -> Callable[[Mapping[str, Any]], Made]:
    def make(keys: Mapping[str, Any]) -> Made:
        channel = keys["channel"]
        sends = (
            Sends.CELSIUS
            if channel.startswith("temp")
            else Sends.HUMIDITY
            if channel.startswith("humidity")
            else Sends.COUNTS
        )
        return wired.Kernel(room, keys[room], channel, keys.get("at")), sends

    return make


def _i2c(keys: Mapping[str, Any]) -> Made:
    bus = keys.get("bus", 1)
    if keys["i2c"] is _Chip.AIR:
        if "channel" in keys:
            return Misread("An SHT3x has no `channel`.", "Write `measures: temperature` or `measures: humidity`.")
        if "measures" not in keys:
            return Misread(
                "Which of its two values is missing.", "Write `measures: temperature` or `measures: humidity`."
            )
        sends = Sends.CELSIUS if keys["measures"] is _OfAir.TEMPERATURE else Sends.HUMIDITY
        return wired.Humidity(bus, keys.get("address", 0x44), sends), sends
    if "measures" in keys:
        return Misread("An ADS1115 measures voltages only.", "Delete `measures`.")
    if "channel" not in keys:
        return Misread("Which of its inputs is missing.", "Write `channel: 0`, 1, 2 or 3.")
    return wired.Converter(bus, keys.get("address", 0x48), keys["channel"]), Sends.COUNTS


def _pin(keys: Mapping[str, Any]) -> Made:
    place = wired.Pin(
        keys["pin"],
        keys.get("gpio", "/dev/gpiochip0"),
        keys.get("on", _Level.HIGH) is _Level.HIGH,
        keys.get("pull", _Pull.NONE).value,
    )
    return place, Sends.SWITCH


_MAKE: dict[str, Callable[[Mapping[str, Any]], Made]] = {
    "onewire": _onewire,
    "hwmon": _kernel("hwmon"),
    "iio": _kernel("iio"),
    "i2c": _i2c,
    "pin": _pin,
}
