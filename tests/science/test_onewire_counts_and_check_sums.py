import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import BadValue
from monitor.science import onewire
from monitor.science.onewire import Verdict

FRAME = bytes.fromhex("50014B467FFF0010A5")  # 21.000 °C; reserved bytes made up, CRC computed


@given(st.integers(-880, 2000))
def test_every_count_in_range_reads_as_a_sixteenth_of_a_degree(counts):
    assert counts / 16 == onewire.celsius(counts & 0xFFFF)


@given(st.integers(-880, 2000))
def test_the_kernels_number_is_truncated_towards_zero_and_never_further_off_than_a_thousandth(counts):
    millis = onewire.millidegrees(counts & 0xFFFF)
    exact = counts * 1000 / 16
    assert abs(millis) <= abs(exact) < abs(millis) + 1
    assert millis == int(exact)


@given(st.integers(0, 0xFFFF), st.integers(9, 12))
def test_what_a_coarser_resolution_leaves_undefined_does_not_move_the_value(word, bits):
    noise = (1 << (12 - bits)) - 1
    assert onewire.celsius(word & ~noise, bits=bits) == onewire.celsius(word | noise, bits=bits)


@pytest.mark.parametrize(("word", "bits"), [(-1, 12), (0x10000, 12), (0x0191, 8), (0x0191, 13)])
def test_a_word_or_a_resolution_that_does_not_exist_is_refused(word, bits):
    with pytest.raises(BadValue):
        onewire.celsius(word, bits=bits)
    with pytest.raises(BadValue):
        onewire.millidegrees(word, bits=bits)


@given(st.binary(min_size=1, max_size=16))
def test_the_check_sum_of_data_followed_by_its_check_sum_is_zero(data):
    assert 0 == onewire.crc8([*data, onewire.crc8(data)])


@given(st.integers(0, 71))
def test_one_flipped_bit_is_never_taken_for_a_reading(bit):
    flipped = bytearray(FRAME)
    flipped[bit // 8] ^= 1 << bit % 8
    assert onewire.Scratchpad(Verdict.CRC) == onewire.judged(bytes(flipped))


@pytest.mark.parametrize("length", [0, 1, 8, 10])
def test_a_scratchpad_of_another_length_is_refused(length):
    with pytest.raises(BadValue, match=f"not {length}"):
        onewire.judged(bytes(length))


def test_a_right_check_sum_on_a_temperature_no_chip_can_have_is_no_reading():
    head = bytes.fromhex("D1074B467FFF0010")  # 125.0625 °C
    assert onewire.Scratchpad(Verdict.OUT_OF_RANGE) == onewire.judged(head + bytes([onewire.crc8(head)]))


def test_a_coarser_chip_is_read_at_its_own_resolution():
    head = bytes.fromhex("91014B461FFF0F10")  # 0x0191 at 9 bits
    assert onewire.Scratchpad(Verdict.GOOD, 25.0) == onewire.judged(head + bytes([onewire.crc8(head)]))


@pytest.mark.parametrize(("config", "bits"), [(0x1F, 9), (0x3F, 10), (0x5F, 11), (0x7F, 12)])
def test_the_configuration_byte_names_the_resolution(config, bits):
    assert bits == onewire.resolution(config)
    assert 750 / 2 ** (12 - bits) == onewire.CONVERSION_MS[bits]


def test_the_kernels_two_lines_are_read():
    text = "50 01 4b 46 7f ff 00 10 a5 : crc=a5 YES\n50 01 4b 46 7f ff 00 10 a5 t=21000\n"
    assert onewire.Scratchpad(Verdict.GOOD, 21.0) == onewire.kernel_text(text)


def test_after_no_the_stale_temperature_of_the_second_line_is_not_read():
    text = "ff ff ff ff ff ff ff ff ff : crc=c9 NO\n50 01 4b 46 7f ff 00 10 a5 t=21000\n"
    assert onewire.Scratchpad(Verdict.DISCONNECTED) == onewire.kernel_text(text)
    torn = "50 01 4b 46 7f ff 00 10 a4 : crc=a5 NO\n50 01 4b 46 7f ff 00 10 a5 t=21000\n"
    assert onewire.Scratchpad(Verdict.CRC) == onewire.kernel_text(torn)


def test_no_beside_bytes_that_check_is_still_no_reading():
    text = "50 01 4b 46 7f ff 00 10 a5 : crc=a5 NO\n50 01 4b 46 7f ff 00 10 a5 t=21000\n"
    assert onewire.Scratchpad(Verdict.CRC) == onewire.kernel_text(text)


def test_yes_on_nine_zeros_is_no_reading():
    text = "00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n"
    assert onewire.Scratchpad(Verdict.ALL_ZERO) == onewire.kernel_text(text)


@pytest.mark.parametrize("text", ["", "t=21000", "50 01 4b 46 7f ff 00 10 a5 : crc=a5 YES\n", "hello\nt=1"])
def test_other_text_is_refused(text):
    with pytest.raises(BadValue, match="1-wire chip"):
        onewire.kernel_text(text)
