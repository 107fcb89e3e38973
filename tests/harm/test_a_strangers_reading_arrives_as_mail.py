"""From a stranger's publish at a real broker to a real mail with the advice in it."""

import pytest
from paho.mqtt import publish

from parts.harm_house import QUEUE, USERS, House
from parts.mail import PostOffice
from parts.mosquitto import Mosquitto

BINS = """
places: {yard: {}}
mats:
  short-mat: {power: 20 W, warms: [pear.low], control: hand}
bins:
  pear:
    name: Pear
    species: eudrilus-eugeniae
    stands_in: yard
    can: [insulate, shade]
    limits: {temperature: {harm: [{below: 12 °C}, {above: 34 °C}]}}
    zones: {low: {probes: {pear-low: {measures: temperature, topic: probes/pear-low}}}}
"""
TOLD = {
    "11.4": (
        "Pear: see that short-mat is on",
        ("11.4 °C", "12 °C or below"),
        "Nothing stops a mat without its own thermostat",
    ),
    "34.6": (
        "Pear: switch short-mat off",
        ("34.6 °C", "34 °C or above"),
        "Unplug the mat before hands, tools or water",
    ),
}
"""What is published: the bin and the act, the number and the limit, the caution."""


def mailed(folder, broker, number):
    """The mail that a plain number brings."""
    with PostOffice() as post, House(folder, broker, BINS, channels={"mail": post.url()}) as house:
        house.daemon().up()
        login = {"username": "probe", "password": USERS["probe"]} if broker.ca_file else None
        publish.single(
            "probes/pear-low",
            number,
            qos=1,
            hostname="localhost" if broker.ca_file else "127.0.0.1",
            port=broker.port,
            auth=login,
            tls={"ca_certs": broker.ca_file} if broker.ca_file else None,
        )
        (text,) = post.texts(1)
        return text


@pytest.mark.parametrize("number", TOLD)
@pytest.mark.parametrize("secure", [{}, {"users": USERS, "tls": True}], ids=["plain", "TLS and a password"])
def test_the_mail_names_bin_and_act_number_and_limit_and_the_caution(tmp_path, secure, number):
    act, numbers, caution = TOLD[number]
    with Mosquitto(QUEUE, **secure) as broker:
        first, second, third = mailed(tmp_path, broker, number).splitlines()[:3]
    assert first.startswith(act)
    assert all(each in second for each in numbers)
    assert third.startswith(caution)
