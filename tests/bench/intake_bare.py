"""The ceiling: a paho subscriber that counts. `intake_bare.py PORT MESSAGES`"""

import json
import resource
import sys
import time

import paho.mqtt.client as mqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

port, due = int(sys.argv[1]), int(sys.argv[2])
count = 0


def on_connect(client, _data, _flags, _reason, _properties):
    client.subscribe([(f"probes/p{i}", 1) for i in range(8)])


def on_message(client, _data, _message):
    global count  # noqa: PLW0603 - a counter and nothing else
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
