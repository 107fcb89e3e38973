"""All of paho: connect, subscribe, receive, acknowledge, publish.

One thread of our own turns the loop and is the only one that touches paho: whatever others hand over (what to
acknowledge, what to publish, new topics) waits in a queue for its next turn. So an acknowledgement can never
slip onto a later connection, and two threads never write into one socket. The turns use paho's interface for
outside loops (`loop_read`, `loop_write`, `loop_misc`); our own loop reads a burst after each wait, says that it
lives, and survives an exception in a callback, which would end paho's own thread.

Connections: a fixed client id, no clean start, QoS 1 and acknowledgements by hand. Under MQTT 5 the broker is
asked to keep the session for SESSION (7 days); under 3.1.1 it keeps it as long as its own settings say.
"""

from monitor.wire.inbox import Delivery, Inbox
from monitor.wire.link import Link, Wire
from monitor.wire.making import Will

__all__ = ["Delivery", "Inbox", "Link", "Will", "Wire"]
