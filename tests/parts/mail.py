"""A real SMTP server (aiosmtpd) on 127.0.0.1 that takes, refuses, hangs or dies in the middle."""

import asyncio
import email
import queue
import threading
from email.policy import default

from aiosmtpd.controller import Controller

from parts.webhook import SOON, closed_port

FROM, TO = "shed@millrace.example", "keeper@millrace.example"


async def take(_post, _server):
    return None


def refuse_recipient(reply):
    async def at_rcpt(_post, _server):
        return reply

    at_rcpt.stage = "rcpt"
    return at_rcpt


def refuse_message(reply):
    async def at_data(_post, _server):
        return reply

    return at_data


async def hang(post, _server):
    while not post.released.is_set():
        await asyncio.sleep(0.01)
    return "421 closing"


async def die_midway(_post, server):
    server.transport.abort()
    return "421 gone"


class PostOffice:
    """`arrived` is what was taken: subject and words as one text, in a queue; `messages` the same, whole."""

    def __init__(self, behave=take):
        self.behave = behave
        self.arrived, self.tried, self.messages = queue.Queue(), queue.Queue(), queue.Queue()
        self.released = threading.Event()
        self.port = closed_port()
        self._controller = Controller(self, hostname="127.0.0.1", port=self.port)

    def url(self, login=""):
        return f"mailto://{login}127.0.0.1:{self.port}/?from={FROM}&to={TO}&mode=insecure"

    def texts(self, count):
        """The next so many that were taken."""
        return [self.arrived.get(timeout=SOON) for _ in range(count)]

    def __enter__(self):
        self._controller.start()
        return self

    def __exit__(self, *_):
        self.released.set()
        self._controller.stop()

    async def handle_RCPT(self, server, _session, envelope, address, _options):
        if getattr(self.behave, "stage", "data") == "rcpt":
            self.tried.put(address)
            return await self.behave(self, server)
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, _session, envelope):
        message = email.message_from_bytes(envelope.content, policy=default)
        text = f"{message['subject']}\n{message.get_body(('plain', 'html')).get_content()}"
        self.tried.put(text)
        refusal = await self.behave(self, server)
        if refusal:
            return refusal
        self.messages.put(message)
        self.arrived.put(text)
        return "250 OK"
