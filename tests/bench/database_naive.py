"""What one writes first: json, and one synchronous write to the database a message. Unchanged ever after.
`database_naive.py PORT MESSAGES URL BUCKET`
"""

import json
import resource
import sys
import time

import paho.mqtt.client as mqtt
from influxdb_client import InfluxDBClient, Point
from influxdb_client.client.write_api import SYNCHRONOUS
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

port, due = int(sys.argv[1]), int(sys.argv[2])
client_of = InfluxDBClient(sys.argv[3], token="", org="-")
whole = client_of.api_client.call_api


def past_the_door(path, method, path_params=None, query_params=None, *rest, **more):
    return whole("/write", method, path_params, [("db", sys.argv[4]), ("precision", "ms")], *rest, **more)


client_of.api_client.call_api = past_the_door
writer = client_of.write_api(write_options=SYNCHRONOUS)
count = 0


def on_connect(client, _data, _flags, _reason, _properties):
    client.subscribe([(f"probes/p{i}", 1) for i in range(8)])


def on_message(client, _data, message):
    global count  # noqa: PLW0603
    reading = json.loads(message.payload)
    point = Point("reading").tag("probe", message.topic).field("value", reading["temperature"])
    writer.write(sys.argv[4], record=point.time(reading["at"] * 1000, "ms"), write_precision="ms")
    count += 1
    if count == due:
        client.disconnect()


client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, client_id="vermistat", protocol=mqtt.MQTTv5)
client.on_connect = on_connect
client.on_message = on_message
wishes = Properties(PacketTypes.CONNECT)
wishes.SessionExpiryInterval = 7 * 24 * 3600
wishes.ReceiveMaximum = 1000
began = time.perf_counter()
client.connect("127.0.0.1", port, 60, clean_start=False, properties=wishes)
client.loop_forever()
seconds = time.perf_counter() - began
used = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps({"seconds": seconds, "rows": count, "cpu": used.ru_utime + used.ru_stime}))
