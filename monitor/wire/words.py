"""What went wrong between us and the broker, in words that say what to do."""

from __future__ import annotations

import socket
import ssl

from paho.mqtt.reasoncodes import ReasonCode

from monitor.addresses import Broker

_REASONS = {
    0x84: "The broker does not speak {version}: set `protocol` to another one.",
    0x85: "The broker does not take the client id {client}: set `client_id` to letters and digits, at most 23.",
    0x86: "The broker refuses the user name or password: check `user` and the password in the settings, "
    "and the broker's password file.",
    0x87: "The broker refuses us (not authorised): check `user` and the password in the settings, "
    "and the broker's password file and access list.",
    0x88: "The broker is not ready to serve: it will be tried again.",
    0x89: "The broker is busy: it will be tried again.",
    0x8A: "The broker has banned us: look into its log.",
    0x8B: "The broker is shutting down: it will be tried again.",
    0x8E: "Another client has taken over our session: two programs use the client id {client}. "
    "Give each daemon its own `client_id`.",
}
UNSUPPORTED = 0x84


def of_reason(reason: ReasonCode, broker: Broker, version: str) -> str:
    """Why the broker refused or ended a connection."""
    known = _REASONS.get(reason.value)
    if known is None:
        return f"The broker at {_place(broker)} ended the connection ({reason}): it will be tried again."
    return known.format(client=broker.client_id, version=version)


def of_error(error: BaseException, broker: Broker) -> str:
    """Why there is no connection at all."""
    place = _place(broker)
    if isinstance(error, ssl.SSLCertVerificationError):
        return _of_certificate(error, broker)
    if isinstance(error, ssl.SSLError) or (broker.tls and isinstance(error, ConnectionResetError)):
        why = getattr(error, "reason", None) or error.strerror or "hangs up"
        return (
            f"{place} does not speak TLS as we do ({why}): check the port, and whether the broker's address "
            "should begin with mqtt:// instead of mqtts://."
        )
    if isinstance(error, ConnectionRefusedError):
        return f"Nobody answers at {place}: is the broker running, and is the port right?"
    if isinstance(error, socket.gaierror):
        return f"The name {broker.host} is not known on this network: check the broker's address."
    if isinstance(error, TimeoutError):
        return f"{place} does not answer in time: is it switched on and reachable from here?"
    return f"No connection to {place} ({error}): it will be tried again."


def of_ca_file(error: OSError, broker: Broker) -> str:
    """Why the CA file is of no use."""
    if isinstance(error, ssl.SSLError):
        return f"The CA file {broker.ca_file} holds no certificate: it should be a PEM file."
    return f"The CA file {broker.ca_file} cannot be read: check its name and who may read it."


def _of_certificate(error: ssl.SSLCertVerificationError, broker: Broker) -> str:
    why = error.verify_message or str(error)
    signer = broker.ca_file or "this machine's own list of authorities"
    if "mismatch" in why.lower() or "not valid for" in why:
        return f"The broker's certificate is for another name than {broker.host}: use the name it was made for."
    if "expired" in why or "not yet valid" in why:
        return f"The broker's certificate is out of date ({why}): renew it, and look at this machine's clock."
    return f"The broker's certificate is not signed by {signer} ({why}): check `ca_file`."


def of_silence(broker: Broker) -> str:
    """The broker closed a new connection without an answer."""
    hint = "" if broker.tls else " If this is its port for TLS, write mqtts:// instead of mqtt://."
    return f"{_place(broker)} closes the connection without a word.{hint}"


def of_loss(broker: Broker) -> str:
    """A connection that stood is gone."""
    return f"The connection to {_place(broker)} was lost: it will be tried again."


def two_of_us(broker: Broker) -> str:
    """Connections that stood break again and again within moments."""
    return (
        f"{_place(broker)} ends each connection within moments. Perhaps a second program uses the client id "
        f"{broker.client_id}: give each daemon its own `client_id`."
    )


def of_patience(broker: Broker, waited_for: str) -> str:
    """The broker did not do in time what it has to."""
    return f"{_place(broker)} did not answer our {waited_for} in time: it will be tried again."


def refused_topics(topics: list[str]) -> str:
    """Subscriptions that were not granted."""
    named = ", ".join(topics[:5]) + (f" and {len(topics) - 5} more" if len(topics) > 5 else "")
    return f"The broker does not let us read {named}: allow it in the broker's access list."


def without_acknowledgement(topics: list[str]) -> str:
    """Subscriptions granted without QoS 1."""
    named = ", ".join(topics[:5]) + (f" and {len(topics) - 5} more" if len(topics) > 5 else "")
    return f"The broker hands over {named} without acknowledgement (QoS 0): readings can be lost on the way."


def short_session(seconds: int) -> str:
    """The broker keeps our session for less than we asked."""
    return f"The broker keeps readings for us only {seconds / 3600:.1f} h when we are away."


def marker_refused(marker: str) -> str:
    """We may not publish our own marker."""
    return f"The broker does not let us write {marker}: allow it in its access list, {_ELSE}"


def may_not_say(topic: str) -> str:
    """What we tell other programs is not taken."""
    site = topic.rpartition("/")[0]
    return f"The broker does not let us write {topic}, so other programs hear nothing: allow {site}/# in its access list."


def may_not_send(topic: str) -> str:
    """What a probe reads is not taken."""
    return f"The broker does not let us write {topic}, so what is read goes nowhere: allow it in the broker's access list."


def marker_missing(marker: str) -> str:
    """Our own marker never came back."""
    return f"What we write to {marker} does not come back: allow us to write and read it, {_ELSE}"


_ELSE = "so that what waited at the broker is not taken for new."


def overfull(broker: Broker) -> str:
    """We stopped reading until the readings in hand are kept."""
    return f"{_place(broker)} has to wait: the readings in hand are not kept yet, so no more are taken."


def _place(broker: Broker) -> str:
    return f"{broker.host}:{broker.port}"
