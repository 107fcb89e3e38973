#!/bin/sh
# /usr/local/bin/vermistat, written by deploy/install.sh: the installed program, with the service's settings and secrets.
if [ -r /etc/vermistat/vermistat.yaml ]; then
    VERMISTAT_SETTINGS=${VERMISTAT_SETTINGS:-/etc/vermistat/vermistat.yaml}
    export VERMISTAT_SETTINGS
fi
if [ -z "${CREDENTIALS_DIRECTORY:-}" ] && [ -r /etc/vermistat/credentials ]; then
    CREDENTIALS_DIRECTORY=/etc/vermistat/credentials
    export CREDENTIALS_DIRECTORY
fi
exec /opt/vermistat/current/bin/vermistat "$@"
