"""A real Mosquitto on a free port, for every test about delivery.

Run as root it would drop to a user of its own that cannot read our folder, so it is started as `nobody` in a
folder of its own; run by anybody else it stays that user.
"""

import contextlib
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path

PLAIN = "allow_anonymous true\npersistence true\nautosave_interval 1800\n"


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Mosquitto:
    """One broker. `extra` are further lines of its configuration; `users` maps names to passwords;
    `tls` makes a CA of its own (`ca_file`) and a certificate for localhost. Use it in a `with`.
    """

    def __init__(self, extra="", *, users=None, tls=False, acl=None, start=True):
        self.folder = Path(tempfile.mkdtemp(prefix="vermistat-broker-"))
        self.port = free_port()
        self.ca_file = str(self.folder / "ca.pem") if tls else None
        self._tls = tls
        self._process = None
        self._write(extra, users, tls, acl)
        self._hand_over()
        if start:
            self.start()

    def _write(self, extra, users, tls, acl):
        lines = [f"listener {self.port} 127.0.0.1"]
        if tls:
            self._certify("localhost", "127.0.0.1")
            lines += [f"{k} {self.folder / v}" for k, v in
                      {"cafile": "ca.pem", "certfile": "cert.pem", "keyfile": "key.pem"}.items()]  # fmt: skip
        if users:
            passwords = self.folder / "passwords"
            passwords.write_text("".join(f"{name}:{word}\n" for name, word in users.items()))
            subprocess.run(["mosquitto_passwd", "-U", passwords], check=True, capture_output=True)
            lines += ["allow_anonymous false", f"password_file {passwords}"]
        else:
            lines.append("allow_anonymous true")
        if acl:
            (self.folder / "acl").write_text(acl)
            lines.append(f"acl_file {self.folder / 'acl'}")
        lines += ["persistence true", f"persistence_location {self.folder}/", "log_dest stderr", extra]
        (self.folder / "mosquitto.conf").write_text("\n".join(lines) + "\n")

    def _certify(self, *names):
        import trustme

        authority = trustme.CA()
        issued = authority.issue_cert(*names)
        authority.cert_pem.write_to_path(self.folder / "ca.pem")
        issued.cert_chain_pems[0].write_to_path(self.folder / "cert.pem")
        issued.private_key_pem.write_to_path(self.folder / "key.pem")

    def _hand_over(self):
        self._as = {}
        if os.getuid() == 0:
            nobody = pwd.getpwnam("nobody")
            self._as = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
            for path in (self.folder, *self.folder.iterdir()):
                os.chown(path, nobody.pw_uid, nobody.pw_gid)

    def start(self):
        """Start it and wait until it listens."""
        binary = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [binary, "-c", str(self.folder / "mosquitto.conf")], stdout=log, stderr=log, **self._as
            )
        until = time.monotonic() + 20
        while time.monotonic() < until:
            if self._process.poll() is not None:
                break
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 1):
                return self
            time.sleep(0.01)
        raise RuntimeError("Mosquitto does not listen:\n" + self.log())

    @property
    def pid(self):
        """Its process."""
        return self._process.pid

    def log(self):
        """What it said so far."""
        return (self.folder / "log").read_text(errors="replace")

    def stop(self):
        """End it in order: it saves its sessions and queues."""
        self._end(signal.SIGTERM)

    def kill(self):
        """End it as a power cut would."""
        self._end(signal.SIGKILL)

    def _end(self, how):
        if self._process is not None and self._process.poll() is None:
            self._process.send_signal(how)
            self._process.wait(20)
        self._process = None

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)
