"""What cannot change while the daemon runs, because something stands on it that is open."""

from __future__ import annotations

from monitor.settings.loading import Settings

RESTART = "Restart Vermistat to take them up (as a service: systemctl restart vermistat)."


def needs_restart(running: Settings, wanted: Settings) -> tuple[str, ...]:
    """The dotted keys that differ and that only a new process can take up."""
    return tuple(key for key, before, after in _fixed(running, wanted) if before != after)


def _fixed(running: Settings, wanted: Settings) -> tuple[tuple[str, object, object], ...]:
    old, new = running.broker, wanted.broker
    return (
        ("site.id", running.rules.site.id, wanted.rules.site.id),
        ("broker.url", (old.host, old.port, old.tls), (new.host, new.port, new.tls)),
        ("broker.user", old.user, new.user),
        ("broker.password", old.password, new.password),
        ("broker.ca_file", old.ca_file, new.ca_file),
        ("broker.protocol", old.protocol, new.protocol),
        ("broker.client_id", old.client_id, new.client_id),
        ("store.path", running.store, wanted.store),
        ("database", running.database, wanted.database),
        ("page", running.page, wanted.page),
    )
