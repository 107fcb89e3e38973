"""A stranger's number on a real broker arrives as a real mail with the right advice: `app.run` itself, every part real."""

import threading
import time

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from monitor.app import run
from monitor.settings import load
from parts.mail import PostOffice
from parts.mosquitto import Mosquitto

USERS = {"shed": "wet-hay", "stranger": "dry-straw"}
SETTINGS = """
site: {{id: orchard, name: Orchard shed, timezone: UTC}}
broker: {broker}
store: {{path: {store}}}
mats:
  long-mat: {{warms: [fig.west], control: hand}}
bins:
  fig:
    species: eudrilus-eugeniae
    can: [insulate]
    zones: {{west: {{probes: {{fig-west: {{measures: temperature, topic: probes/fig-west}}}}}}}}
people: {{ana: {{channels: mail}}}}
channels: {{mail: {{send_to: {{from_env: ORCHARD_MAIL}}}}}}
"""


def stranger(broker, tls):
    client = mqtt.Client(CallbackAPIVersion.VERSION2)
    if tls:
        client.tls_set(ca_certs=broker.ca_file)
        client.username_pw_set("stranger", USERS["stranger"])
    client.connect("localhost", broker.port)
    client.loop_start()
    return client


@pytest.mark.parametrize("tls", [False, True], ids=["plain", "TLS and password"])
def test_a_strangers_number_arrives_as_a_mail_with_the_right_advice(tmp_path, tls):
    with Mosquitto(tls=tls, users=USERS if tls else None) as broker, PostOffice() as office:
        scheme = "mqtts" if tls else "mqtt"
        address = f"url: {scheme}://localhost:{broker.port}"
        secret = f", ca_file: {broker.ca_file}, user: shed, password: {{from_env: ORCHARD_BROKER}}" if tls else ""
        file = tmp_path / "site.yaml"
        file.write_text(SETTINGS.format(broker=f"{{{address}{secret}}}", store=tmp_path / "site.db"))
        settings = load([file], environ={"ORCHARD_MAIL": office.url(), "ORCHARD_BROKER": USERS["shed"]})
        stop = threading.Event()
        daemon = threading.Thread(target=run, args=(settings,), kwargs={"stop": stop, "period": 0.2})
        daemon.start()
        try:
            client = stranger(broker, tls)
            until = time.monotonic() + 30
            # what is said before the daemon has subscribed is nobody's, so it is said until it is heard
            while office.arrived.empty():
                assert time.monotonic() < until, "no mail came"
                client.publish("probes/fig-west", "11.4", qos=1).wait_for_publish(5)
                time.sleep(0.2)
            client.disconnect()
            client.loop_stop()
            (mail,) = office.texts(1)
        finally:
            stop.set()
            daemon.join(10)
    assert not daemon.is_alive()
    first = mail.splitlines()[0]
    assert "fig" in first.lower()
    assert "see that long-mat is on now" in first
    assert "11.4 °C" in mail
    assert "12 °C" in mail
    assert "mat" in mail.splitlines()[-2] + mail.splitlines()[-1]
