"""What one writes first: json, one insert and one commit a message, SQLite's defaults. Unchanged ever after.
`intake_naive.py PORT MESSAGES FILE`
"""

import json
import resource
import sqlite3
import sys
import time

import paho.mqtt.client as mqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

port, due = int(sys.argv[1]), int(sys.argv[2])
db = sqlite3.connect(sys.argv[3])
db.execute("CREATE TABLE readings (topic TEXT, at REAL, temperature REAL)")
db.commit()
count = 0


def on_connect(client, _data, _flags, _reason, _properties):
    client.subscribe([(f"probes/p{i}", 1) for i in range(8)])


def on_message(client, _data, message):
    global count  # noqa: PLW0603
    reading = json.loads(message.payload)
    db.execute("INSERT INTO readings VALUES (?, ?, ?)", (message.topic, reading["at"], reading["temperature"]))
    db.commit()
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
(rows,) = db.execute("SELECT count(*) FROM readings").fetchone()
used = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps({"seconds": seconds, "rows": rows, "cpu": used.ru_utime + used.ru_stime}))
