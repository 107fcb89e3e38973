"""How the product is asked for values of sensors: chips by their words, the kernel's files by a folder that holds them."""

from __future__ import annotations

import tempfile
from pathlib import Path

from monitor.publisher.faults import Faulty
from monitor.publisher.sources import source_of
from monitor.publisher.sources.scale import Weighed
from monitor.publisher.wired import Kernel, OneWire, Scale, Sends, Wired
from monitor.science import converter, hygrometer

CHIP = "28-0316a2795b1c"


def read(wired, root):
    """A value, or the name of what is wrong."""
    try:
        return source_of(wired, root=Path(root)).read()
    except Faulty as faulty:
        return str(faulty.fault)


def files_in(folder, files):
    folder.mkdir(parents=True)
    for name, text in files.items():
        (folder / name).write_text(text)


def onewire_files(*, files):
    with tempfile.TemporaryDirectory() as root:
        files_in(Path(root) / "bus/w1/devices" / CHIP, files)
        return read(Wired("p", OneWire(CHIP), Sends.CELSIUS, "t"), root)


def driver_files(*, room, chip, channel, files):
    folder = {"hwmon": "class/hwmon/hwmon3", "iio": "bus/iio/devices/iio:device0"}[room]
    with tempfile.TemporaryDirectory() as root:
        files_in(Path(root) / folder, {"name": f"{chip}\n", **files})
        return read(Wired("p", Kernel(room, chip, channel), Sends.COUNTS, "t"), root)


def frame(*, six):
    air = hygrometer.frame(bytes.fromhex(six))
    return None if air is None else list(air)


class Counts:
    """A source that says the same all the time."""

    def __init__(self, counts):
        self.read = lambda: float(counts)


def kilograms(*, counts, zero, per_kg):
    try:
        return Weighed(Counts(counts), Scale(zero, per_kg)).read()
    except Faulty as faulty:
        return str(faulty.fault)


SENSORS = {
    "humidity chip CRC": lambda data: f"{hygrometer.crc8(bytes.fromhex(data)):02X}",
    "humidity chip °C": lambda word: hygrometer.celsius(int(word, 16)),
    "humidity chip %RH": lambda word: hygrometer.humidity(int(word, 16)),
    "humidity chip frame": frame,
    "converter configuration": lambda channel: f"{converter.one_shot(channel):04X}",
    "converter counts": lambda word: converter.counts(int(word, 16)),
    "converter millivolts": lambda word: converter.volts(int(word, 16)) * 1000,
    "kernel's w1 files": onewire_files,
    "kernel's driver files": driver_files,
    "scale kg": kilograms,
}
