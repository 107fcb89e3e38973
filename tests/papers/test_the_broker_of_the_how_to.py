"""broker.md, followed to the letter on a real Mosquitto: who knows the password gets in by TLS, and nobody else does."""

import contextlib
import os
import pwd
import shlex
import shutil
import socket
import subprocess
import threading
import time
from pathlib import Path

import pytest

from monitor.addresses import Broker, Secret
from monitor.wire.listening import listen
from papers.reading import ROOT, blocks
from parts.mosquitto import free_port
from parts.road import until

PAPER = ROOT / "config" / "how-to" / "broker.md"
PASSWORD = "wet-hay"
HOST = "localhost"


def typed(folder):
    """The paper's own commands, on a folder instead of /etc/mosquitto and this machine instead of broker.local."""
    lines = [line for block in blocks(PAPER) if block.language == "sh" for line in block.text.splitlines()]
    for line in lines:
        words = shlex.split(line.removeprefix("sudo "))
        if words[0] in ("mkdir", "openssl", "mosquitto_passwd"):
            yield [
                word.replace("/etc/mosquitto", str(folder))
                .replace("broker.local", HOST)
                .replace("192.168.1.10", "127.0.0.1")
                for word in words
            ]


def configuration(folder, port):
    (conf,) = [block.text for block in blocks(PAPER) if block.language == "conf"]
    assert "listener 8883" in conf
    return conf.replace("/etc/mosquitto", str(folder)).replace("listener 8883", f"listener {port} 127.0.0.1")


@pytest.fixture(scope="module")
def broker(tmp_path_factory):
    """(port, the certificate to know it by)"""
    folder, port = tmp_path_factory.mktemp("mosquitto"), free_port()
    for words in typed(folder):
        asks = words[0] == "mosquitto_passwd"
        told = [*words[:1], "-b", *words[1:], PASSWORD] if asks else words
        subprocess.run(told, check=True, capture_output=True)
    (folder / "mosquitto.conf").write_text(configuration(folder, port))
    (folder / "access").write_text(*[block.text for block in blocks(PAPER) if block.language == "acl"])
    how = {}
    if os.getuid() == 0:
        nobody = pwd.getpwnam("nobody")
        how = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
        subprocess.run(["chown", "-R", "nobody", folder], check=True)
        for above in (folder, *folder.parents):
            if above.is_relative_to("/tmp/pytest-of-root"):
                above.chmod(0o755)
    program = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
    process = subprocess.Popen([program, "-c", folder / "mosquitto.conf"], stderr=subprocess.PIPE, **how)
    try:
        until = time.monotonic() + 20
        while not listens(port):
            assert process.poll() is None, process.stderr.read().decode()
            assert time.monotonic() < until
            time.sleep(0.02)
        yield port, folder / "certs" / "broker.pem"
    finally:
        process.terminate()
        process.wait(20)
        process.stderr.close()


def listens(port):
    try:
        socket.create_connection(("127.0.0.1", port), 1).close()
    except OSError:
        return False
    return True


def publishes(port, *more):
    """The paper's own line, and whether it was taken."""
    (line,) = [
        line for block in blocks(PAPER) if block.language == "sh" for line in block.text.splitlines()
        if line.startswith("mosquitto_pub ")
    ]  # fmt: skip
    program, *words = shlex.split(line)
    told = [program, "-h", HOST, "-p", str(port), *more, *words[words.index("-t") :]]
    return 0 == subprocess.run(told, capture_output=True, check=False).returncode


def test_who_knows_the_password_gets_in_by_tls(broker):
    port, certificate = broker
    assert publishes(port, "--cafile", certificate, "-u", "probes", "-P", PASSWORD)
    assert publishes(port, "--cafile", certificate, "-u", "vermistat", "-P", PASSWORD)


@pytest.mark.parametrize(
    "how",
    [
        ["--cafile", "THE CERTIFICATE", "-u", "probes", "-P", "dry-straw"],
        ["--cafile", "THE CERTIFICATE", "-u", "stranger", "-P", PASSWORD],
        ["--cafile", "THE CERTIFICATE"],
        ["-u", "probes", "-P", PASSWORD],
    ],
    ids=["wrong password", "stranger", "nobody", "without TLS"],
)
def test_nobody_else_gets_in(broker, how):
    port, certificate = broker
    assert not publishes(port, *[str(certificate) if word == "THE CERTIFICATE" else word for word in how])


@pytest.mark.parametrize(
    ("who", "topic", "heard"),
    [
        ("shed", "probes/fig-west", True),
        ("shed", "publishers/shed", True),
        ("shed", "probes/fig-middle", False),
        ("shed", "vermistat/orchard/durable/fig-west", False),
        ("probes", "probes/fig-middle", True),
        ("probes", "probes/fig-west", False),
    ],
)
def test_everybody_may_write_their_own_topics_alone(broker, who, topic, heard):
    """By what Vermistat hears: what it says itself comes last, so all that comes before it has come."""
    port, certificate = broker
    said, stands = [], threading.Event()
    login = {"tls": True, "ca_file": str(certificate), "user": "vermistat", "password": Secret(PASSWORD)}

    def hear(at, payload, kept):
        said.append((at, payload))

    def tell(name, about):
        told = ["mosquitto_pub", "-h", HOST, "-p", str(port), "--cafile", certificate, "-u", name, "-P", PASSWORD]
        subprocess.run([*told, "-t", about, "-q", "1", "-m", "20.5"], check=True, capture_output=True)

    def listening():
        with contextlib.suppress(StopIteration):
            listen(Broker(HOST, port, **login), "#", seconds=20, heard=hear, patience=ended)

    def ended():
        if stands.is_set():
            raise StopIteration
        return time.monotonic()

    thread = threading.Thread(target=listening)
    thread.start()
    try:
        until(lambda: tell("vermistat", "vermistat/orchard/first") or said, "we are heard")
        tell(who, topic)
        tell("vermistat", "vermistat/orchard/last")
        until(lambda: ("vermistat/orchard/last", b"20.5") in said, "the last word")
        assert heard == ((topic, b"20.5") in said)
    finally:
        stands.set()
        thread.join(20)


def test_vermistat_itself_gets_in(broker, tmp_path):
    """By the settings of the paper, at the port of this test."""
    from monitor.settings import load
    from monitor.wire import Inbox, Wire

    port, certificate = broker
    (piece,) = [block.text for block in blocks(PAPER) if block.language == "yaml"]
    shutil.copy(certificate, tmp_path / "broker.pem")
    (tmp_path / "broker-password").write_text(PASSWORD)
    first = (ROOT / "config" / "one-bin.yaml").read_text()
    (tmp_path / "s.yaml").write_text(first + piece.replace("broker.local:8883", f"{HOST}:{port}"))
    settings = load([tmp_path / "s.yaml"], environ={"VERMISTAT_PHONE_URL": "json://127.0.0.1/"})
    wire = Wire(
        settings.broker, topics=("probes/fig-middle",), marker="vermistat/porch/marker", now=lambda: 0,
        patience=time.monotonic, inbox=Inbox(10), beat=lambda: None,
    )  # fmt: skip
    wire.start()
    try:
        until = time.monotonic() + 20
        while not wire.link().up:
            assert time.monotonic() < until, wire.link().detail
            time.sleep(0.02)
    finally:
        wire.stop(5)


def test_the_paper_names_no_other_file_than_it_makes():
    text = PAPER.read_text(encoding="utf-8")
    made = {
        "/etc/mosquitto/passwords",
        "/etc/mosquitto/certs",
        "/etc/mosquitto/access",
        "/etc/mosquitto/certs/broker.pem",
    }
    assert made <= {str(Path(word.strip("`,;"))) for word in text.split() if word.startswith("/etc/")}
