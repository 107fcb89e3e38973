"""Sensors as far as they can be read without any: a bus and a pin that stand in for smbus2's and gpiod's, the libraries' own
types where they need no hardware, and folders as the kernel documents them. Values stand in fixtures/sources/sensors.json.
"""

import errno
import os
import types
from pathlib import Path

import gpiod
import pytest
import smbus2

from monitor.publisher import faults
from monitor.publisher.faults import Fault, Faulty
from monitor.publisher.sampling import Sampling
from monitor.publisher.sources import source_of
from monitor.publisher.sources.i2c import ConverterInput, HumidityChip
from monitor.publisher.sources.kernel import KernelChannel
from monitor.publisher.sources.onewire import on_the_bus
from monitor.publisher.sources.pin import PinLine
from monitor.publisher.wired import Converter, Humidity, Kernel, OneWire, Pin, Sends, Wired
from monitor.science import onewire


def fault_of(source):
    with pytest.raises(Faulty) as caught:
        source.read()
    assert str(caught.value)[-1] in ".?"
    return caught.value.fault


# An SHT3x

GOOD = bytes.fromhex("623D84B333AB")


class AirBus:
    """Answers as an SHT3x does: what was written is kept, what is read is `answer`."""

    def __init__(self, answer=GOOD, error=None):
        self.answer, self.error, self.wrote = answer, error, []

    def __call__(self, number):
        self.wrote.append(("open", number))
        return self

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.wrote.append("close")

    def i2c_rdwr(self, *messages):
        if self.error is not None:
            raise self.error
        for message in messages:
            if message.flags & 1:  # I2C_M_RD
                for index, byte in enumerate(self.answer):
                    message.buf[index] = bytes([byte])
            else:
                self.wrote.append((message.addr, list(message)))


@pytest.mark.parametrize(("measures", "value"), [(Sends.CELSIUS, 22.1561), (Sends.HUMIDITY, 70.0008)])
def test_air_is_measured_once_waited_for_and_read(measures, value):
    rests, bus = [], AirBus()
    chip = HumidityChip(Humidity(1, 0x44, measures), bus, rests.append)
    assert value == pytest.approx(chip.read(), abs=1e-4)
    assert [("open", 1), (0x44, [0x24, 0x00]), "close"] == bus.wrote
    assert rests
    assert rests[0] >= 0.0155


@pytest.mark.parametrize("at", range(6))
def test_one_wrong_bit_anywhere_in_the_answer_is_no_value(at):
    answer = bytearray(GOOD)
    answer[at] ^= 0x10
    chip = HumidityChip(Humidity(1, 0x44, Sends.CELSIUS), AirBus(bytes(answer)), lambda _: None)
    assert Fault.CRC is fault_of(chip)


@pytest.mark.parametrize(
    ("number", "fault"),
    [
        (errno.EREMOTEIO, Fault.BUS),
        (errno.ENXIO, Fault.MISSING),
        (errno.EIO, Fault.BUS),
        (errno.EACCES, Fault.RIGHTS),
    ],
)
def test_what_the_kernel_says_of_a_bus_is_counted_by_kind(number, fault):
    error = OSError(number, os.strerror(number))
    for source in (
        HumidityChip(Humidity(1, 0x44, Sends.CELSIUS), AirBus(error=error), lambda _: None),
        ConverterInput(Converter(1, 0x48, 0), ConverterBus(error=error), lambda _: None),
    ):
        assert fault is fault_of(source)


def test_a_bus_that_is_not_there_is_missing():
    """By smbus2 itself: this machine has no bus 99."""
    wired = Wired("air", Humidity(99, 0x44, Sends.CELSIUS), Sends.CELSIUS, "t")
    assert Fault.MISSING is fault_of(source_of(wired))
    assert smbus2.__name__ == "smbus2"


# An ADS1115


class ConverterBus:
    """Registers of an ADS1115; a conversion is done when it is read, unless it `sleeps`."""

    def __init__(self, counts=16384, error=None, sleeps=False, meddled=None):
        self.registers = {0: counts & 0xFFFF, 1: 0x8583}
        self.error, self.sleeps, self.meddled = error, sleeps, meddled

    def __call__(self, _number):
        return self

    def __enter__(self):
        return self

    def __exit__(self, *_):
        pass

    def write_i2c_block_data(self, _address, register, data):
        if self.error is not None:
            raise self.error
        self.registers[register] = int.from_bytes(bytes(data), "big")

    def read_i2c_block_data(self, _address, register, length):
        value = self.registers[register]
        if register == 1:
            value = self.meddled or (value & 0x7FFF if self.sleeps else value)
        return list(value.to_bytes(length, "big"))


@pytest.mark.parametrize(("channel", "config"), [(0, 0xC383), (1, 0xD383), (2, 0xE383), (3, 0xF383)])
def test_a_converter_is_told_which_input_and_says_counts(channel, config):
    bus = ConverterBus(12345)
    assert 12345.0 == ConverterInput(Converter(1, 0x48, channel), bus, lambda _: None).read()
    assert config == bus.registers[1]


def test_a_converter_below_ground_says_negative_counts():
    assert -3.0 == ConverterInput(Converter(1, 0x48, 0), ConverterBus(-3), lambda _: None).read()


@pytest.mark.parametrize("how", [{"sleeps": True}, {"meddled": 0xD383}], ids=["not done", "another asked it"])
def test_counts_that_may_not_be_ours_are_none(how):
    assert Fault.BUS is fault_of(ConverterInput(Converter(1, 0x48, 0), ConverterBus(**how), lambda _: None))


# A pin


class Lines:
    """Stands for `gpiod.request_lines`, with gpiod's own settings and values."""

    def __init__(self, high, error=None):
        self.high, self.error, self.asked = high, error, None
        self.line, self.LineSettings = gpiod.line, gpiod.LineSettings

    def request_lines(self, chip, consumer, config):
        if self.error is not None:
            raise self.error
        self.asked = (chip, consumer, config)
        return self

    def __enter__(self):
        return self

    def __exit__(self, *_):
        pass

    def get_value(self, line):
        active = self.high is not self.asked[2][line].active_low
        return gpiod.line.Value.ACTIVE if active else gpiod.line.Value.INACTIVE


@pytest.mark.parametrize(
    ("high", "on_is_high", "value"),
    [(True, True, 1.0), (False, True, 0.0), (True, False, 0.0), (False, False, 1.0)],
)
def test_a_pin_is_on_by_the_level_that_means_it(high, on_is_high, value):
    lines = Lines(high)
    assert value == PinLine(Pin(17, "/dev/gpiochip0", on_is_high, "up"), lines).read()
    chip, consumer, config = lines.asked
    assert ("/dev/gpiochip0", "vermistat", [17]) == (chip, consumer, list(config))
    assert gpiod.line.Direction.INPUT is config[17].direction
    assert gpiod.line.Bias.PULL_UP is config[17].bias


def test_a_chip_that_is_not_there_is_missing():
    """By gpiod itself: this machine has no such chip."""
    assert Fault.MISSING is fault_of(PinLine(Pin(17, "/dev/gpiochip98")))


def test_a_line_that_somebody_else_holds_is_told():
    assert Fault.BUS is fault_of(PinLine(Pin(17), Lines(True, OSError(errno.EBUSY, "busy"))))


@pytest.mark.parametrize(
    ("place", "library"),
    [(Humidity(1, 0x44, Sends.CELSIUS), "smbus2"), (Converter(1, 0x48, 0), "smbus2"), (Pin(17), "gpiod")],
)
def test_a_library_that_is_not_installed_is_named(place, library, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, library, None)
    source = source_of(Wired("p", place, Sends.CELSIUS, "t"))
    with pytest.raises(Faulty, match=f"{library} is not installed") as caught:
        source.read()
    assert caught.value.fault is Fault.LIBRARY


# The kernel's files


def device(root, number, name, at, **files):
    """A hwmon device as the kernel lays it out: a link to the device behind it."""
    behind = root / "devices/platform" / at
    behind.mkdir(parents=True)
    folder = root / f"class/hwmon/hwmon{number}"
    folder.mkdir(parents=True)
    (folder / "name").write_text(name + "\n")
    (folder / "device").symlink_to(behind)
    for file, text in files.items():
        (folder / file).write_text(text)
    return folder


def test_one_of_two_chips_of_a_name_is_told_by_its_address(tmp_path):
    device(tmp_path, 0, "cpu_thermal", "thermal0", temp1_input="51000\n")
    device(tmp_path, 1, "sht3x", "1-0044", temp1_input="21500\n")
    device(tmp_path, 2, "sht3x", "1-0045", temp1_input="9000\n")
    assert 9.0 == KernelChannel(Kernel("hwmon", "sht3x", "temp1", "1-0045"), tmp_path).read()
    with pytest.raises(Faulty, match="several sht3x: say which with `at`: 1-0044, 1-0045"):
        KernelChannel(Kernel("hwmon", "sht3x", "temp1"), tmp_path).read()
    with pytest.raises(Faulty, match="No sht3x is known to the kernel"):
        KernelChannel(Kernel("hwmon", "sht3x", "temp1", "1-0046"), tmp_path).read()


def test_a_device_that_comes_back_under_another_number_is_found(tmp_path):
    folder = device(tmp_path, 1, "sht3x", "1-0044", temp1_input="21500\n")
    source = KernelChannel(Kernel("hwmon", "sht3x", "temp1"), tmp_path)
    assert 21.5 == source.read()
    folder.rename(folder.with_name("hwmon7"))
    assert 21.5 == source.read()


def test_a_driver_that_says_that_its_sensor_is_faulty_is_believed(tmp_path):
    device(tmp_path, 1, "max31865", "spi0.0", temp1_input="21500\n", temp1_fault="1\n")
    assert Fault.BUS is fault_of(KernelChannel(Kernel("hwmon", "max31865", "temp1"), tmp_path))


@pytest.mark.parametrize(
    ("channel", "text"), [("temp1", "-70000"), ("temp1", "200000"), ("humidity1", "-1"), ("humidity1", "100001")]
)
def test_what_no_chip_can_measure_is_no_value(tmp_path, channel, text):
    device(tmp_path, 1, "sht3x", "1-0044", **{f"{channel}_input": text})
    assert Fault.IMPOSSIBLE is fault_of(KernelChannel(Kernel("hwmon", "sht3x", channel), tmp_path))


@pytest.mark.parametrize(
    ("channel", "text", "value"),
    [
        ("humidity1", "0", 0.0),
        ("humidity1", "100000", 100.0),
        ("temp1", "-60000", -60.0),
        ("temp1", "150000", 150.0),
    ],
)
def test_the_ends_themselves_are_values(tmp_path, channel, text, value):
    device(tmp_path, 1, "sht3x", "1-0044", **{f"{channel}_input": text})
    assert value == KernelChannel(Kernel("hwmon", "sht3x", channel), tmp_path).read()


@pytest.mark.parametrize("text", ["nan", "inf", "-Infinity", "1,5", "", "0x10"])
def test_what_is_no_number_is_no_value(tmp_path, text):
    device(tmp_path, 1, "ads7828", "1-0048", in0_input=text)
    assert Fault.NONSENSE is fault_of(KernelChannel(Kernel("hwmon", "ads7828", "in0"), tmp_path))


def test_a_folder_of_the_kernel_that_is_not_there_at_all(tmp_path):
    assert Fault.MISSING is fault_of(KernelChannel(Kernel("iio", "ads1015", "voltage0"), tmp_path))
    assert [] == on_the_bus(tmp_path)


def test_every_way_of_wiring_has_a_source():
    for place in (OneWire("28-0316a2795b1c"), Kernel("iio", "a", "temp"), Humidity(1, 1, Sends.CELSIUS),
                  Converter(1, 1, 1), Pin(1)):  # fmt: skip
        assert hasattr(source_of(Wired("p", place, Sends.CELSIUS, "t"), root=Path("/nowhere")), "read")


def test_errors_of_the_system_say_what_to_look_at():
    for number in (errno.EIO, errno.ENOENT, errno.EACCES, errno.ENODEV):
        error = OSError(number, os.strerror(number))
        error = FileNotFoundError(number, "x") if number == errno.ENOENT else error
        assert str(faults.of_the_system(error, "It")).startswith("It ")
    assert types.ModuleType is type(faults)


# Several readings make one value


def test_a_value_is_the_mean_of_its_readings_at_the_time_of_the_newest():
    sampling = Sampling()
    for n, value in enumerate((20.0, 21.0, 22.5)):
        sampling.take(value, 1000 * n)
    assert (2000, pytest.approx(21.166667)) == sampling.value()
    assert sampling.value() is None


def test_a_switch_is_as_it_was_read_last():
    sampling = Sampling(switch=True)
    for n, value in enumerate((1.0, 1.0, 0.0)):
        sampling.take(value, n)
    assert (2, 0.0) == sampling.value()


def test_faults_are_counted_by_kind_and_said_once_until_it_reads_again():
    sampling = Sampling()
    assert sampling.refuse(Fault.CRC, "wrong.")
    assert not sampling.refuse(Fault.CRC, "wrong.")
    assert sampling.refuse(Fault.POWER_ON, "85.")
    sampling.take(20.0, 5)
    assert "" == sampling.said
    assert sampling.refuse(Fault.CRC, "wrong.")
    assert ({Fault.CRC: 3, Fault.POWER_ON: 1}, 1) == (sampling.faults, sampling.good)


# A chip on the 1-wire bus


class Chip:
    """A folder of the kernel's for one chip."""

    def __init__(self, root, name="w1_slave"):
        self.file = root / "bus/w1/devices/28-0316a2795b1c" / name
        self.file.parent.mkdir(parents=True)
        self.source = source_of(Wired("p", OneWire("28-0316a2795b1c"), Sends.CELSIUS, "t"), root=root)

    def says(self, text):
        self.file.write_text(text)
        try:
            return self.source.read()
        except Faulty as faulty:
            return faulty.fault


HOT = "50 05 4b 46 7f ff 00 10 {crc:02x}"


def hot():
    """85.0 °C by a chip that does not own up to it: byte 6 is not 0C."""
    pad = bytes.fromhex("50054b467fff0010")
    text = HOT.format(crc=onewire.crc8(pad))
    return f"{text} : crc={onewire.crc8(pad):02x} YES\n{text} t=85000\n"


def test_85_degrees_are_believed_beside_a_neighbour_alone(tmp_path):
    """The DS18B20's value at power-up is a lawful one too (w1_therm.rst)."""
    chip = Chip(tmp_path)
    assert Fault.POWER_ON is chip.says(hot())
    warm = "91 01 4b 46 7f ff 0f 10 25"
    assert 25.062 == chip.says(f"{warm} : crc=25 YES\n{warm} t=25062\n")
    assert Fault.POWER_ON is chip.says(hot())


def test_the_plain_file_is_held_to_the_last_good_value_where_only_a_fault_is_likely(tmp_path):
    chip = Chip(tmp_path, "temperature")
    assert [Fault.POWER_ON, Fault.SILENT, 21.0, Fault.SILENT, Fault.POWER_ON] == [
        chip.says(text) for text in ("85000\n", "-62\n", "21000\n", "-62\n", "85000\n")
    ]
    assert [2.0, -0.062, 1.0] == [chip.says(text) for text in ("12000\n", "2000\n", "-62\n", "1000\n")][1:]
    assert [75.0, 85.0] == [chip.says(text) for text in ("75000\n", "85000\n")]
    assert [-55.0, 125.0] == [chip.says(text) for text in ("-55000\n", "125000\n")]
    assert [Fault.IMPOSSIBLE, Fault.IMPOSSIBLE] == [chip.says(text) for text in ("-55062\n", "125062\n")]


@pytest.mark.parametrize("text", ["", "rubbish", "50 01\n", "t=21000\n"])
def test_what_is_no_text_of_the_kernels_is_no_value(tmp_path, text):
    assert Chip(tmp_path).says(text) in (Fault.SILENT, Fault.NONSENSE)
