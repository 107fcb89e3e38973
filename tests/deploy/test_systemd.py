"""Telling systemd how we are, through a socket of the kind it listens on."""

import socket
import uuid

import pytest

from monitor.systemd import tell


@pytest.fixture(params=["path", "abstract"])
def listening(request, tmp_path, monkeypatch):
    """The two kinds of address that sd_notify(3) allows."""
    if request.param == "path":
        name = bound = str(tmp_path / "notify")
    else:
        word = f"vermistat-{uuid.uuid4().hex}"
        name, bound = "@" + word, "\0" + word
    monkeypatch.setenv("NOTIFY_SOCKET", name)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(bound)
        listener.settimeout(10)
        yield listener


def test_each_message_arrives_as_one_datagram(listening):
    for message in ("READY=1", "WATCHDOG=1", "STATUS=4 bins, nothing to do\nSTOPPING=1"):
        assert tell(message)
        assert message.encode() == listening.recv(1000)


@pytest.mark.parametrize("unset", [None, ""])
def test_without_systemd_nothing_is_said_and_nothing_fails(unset, monkeypatch):
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    if unset is not None:
        monkeypatch.setenv("NOTIFY_SOCKET", unset)
    assert not tell("READY=1")


def test_a_socket_that_is_gone_is_an_error_of_the_machine(tmp_path, monkeypatch):
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "gone"))
    with pytest.raises(OSError, match="No such file"):
        tell("READY=1")
