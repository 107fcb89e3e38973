"""`deploy/install.sh` laid out below a folder, with nothing started and nothing fetched: the list of packages is empty, and
those of this very Python are lent. Under a real systemd, by hand: deploy/prove.sh.
"""

import os
import re
import shutil
import subprocess
import sys
import sysconfig
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from parts.mosquitto import Mosquitto

ROOT = Path(__file__).parents[2]
ANSWERS = """# for the tests
site=porch
timezone=Europe/Lisbon
bin=fig
species=eisenia-fetida
probe=fig-middle
person=ana
evening=22:30
up=06:45
send_to=json://127.0.0.1:9/secret-word
page=network
"""


def checkout_in(place):
    """This checkout with an empty list of packages."""
    for name in ("monitor", "deploy", "config"):
        shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("README.md", "LICENSE"):
        shutil.copy(ROOT / name, place)
    (place / "deploy" / "requirements" / "runtime.txt").write_text("")
    return place


def install(checkout, root, *options, typed="", answers=ANSWERS):
    file = checkout.parent / "answers"
    if answers is not None:
        file.write_text(answers)
        options = ("--yes", "--answers", file, *options)
    lent = {"PYTHONPATH": sysconfig.get_path("purelib"), "PYTHON": sys.executable, "PIP_NO_INDEX": "1"}
    return subprocess.run(
        ["/bin/sh", checkout / "deploy" / "install.sh", "--root", root, *options],
        capture_output=True, text=True, timeout=240, check=False, input=typed, env={**os.environ, **lent},
    )  # fmt: skip


class Laid:
    """One layout, made once for all that only look at it."""

    def __init__(self, folder):
        self.checkout, self.root = checkout_in(folder / "checkout"), folder / "root"
        self.said = install(self.checkout, self.root)

    def tree(self):
        """Every path with its kind, mode and content, the program's own files left out."""
        found = {}
        for path in sorted(self.root.rglob("*")):
            name = str(path.relative_to(self.root))
            if re.match(r"opt/vermistat/2[\d-]+/", name) or name.startswith("run/"):
                continue
            what = os.readlink(path) if path.is_symlink() else path.read_bytes() if path.is_file() else b""
            found[name] = (oct(path.lstat().st_mode), what)
        return found


@pytest.fixture(scope="module")
def laid(tmp_path_factory):
    found = Laid(tmp_path_factory.mktemp("laid"))
    assert 0 == found.said.returncode, found.said.stderr
    return found


def check(laid):
    return subprocess.run(
        [laid.root / "opt/vermistat/current/bin/vermistat", "check", "--settings", laid.root / "etc/vermistat/vermistat.yaml"],
        capture_output=True, text=True, timeout=60, check=False,
        env={
            "PATH": os.environ["PATH"], "PYTHONPATH": sysconfig.get_path("purelib"),
            "CREDENTIALS_DIRECTORY": str(laid.root / "etc/vermistat/credentials"),
        },
    )  # fmt: skip


def test_answers_become_settings_that_are_accepted_and_do_what_was_answered(laid):
    done = check(laid)
    assert 0 == done.returncode, done.stderr
    for said in ("porch (porch): times of Europe/Lisbon", "Bin fig: eisenia-fetida", "fig-middle (temperature)",
                 "as vermistat, password ***", "it asks for its passphrase", "ana"):  # fmt: skip
        assert said in done.stdout
    assert not [line for line in done.stdout.splitlines() if line.startswith("Beware") and "https" not in line]


def test_everything_lies_where_hier_7_puts_it_and_secrets_are_for_root_alone(laid):
    tree = laid.tree()
    tops = {"/".join(name.split("/")[:2]) for name in tree if "/" in name}
    assert {"etc/vermistat", "etc/systemd", "etc/mosquitto", "opt/vermistat", "usr/local"} == tops - {"run/lock"}
    for name in ("credentials", "ca", "probes"):
        assert oct(0o40700) == tree[f"etc/vermistat/{name}"][0]
    secrets = [
        "etc/vermistat/ca/ca.key",
        "etc/mosquitto/vermistat/broker.key",
        "etc/mosquitto/vermistat/passwords",
    ]
    secrets += [n for n in tree if re.match(r"etc/vermistat/(credentials|probes)/", n)]
    assert 7 == len(secrets)
    assert {oct(0o100600)} == {tree[name][0] for name in secrets}
    assert "secret-word" not in tree["etc/vermistat/vermistat.yaml"][1].decode()


def test_the_environment_is_dated_and_current_leads_to_it(laid):
    day = datetime.now(UTC).astimezone().date().isoformat()
    assert re.fullmatch(r"\d{4}-\d\d-\d\d-1", os.readlink(laid.root / "opt/vermistat/current"))
    assert os.readlink(laid.root / "opt/vermistat/current")[:7] == day[:7]


def test_each_secret_is_handed_over_by_a_line_of_its_own(laid):
    text = laid.tree()["etc/systemd/system/vermistat.service.d/credentials.conf"][1].decode()
    names = [x.split(":")[0] for x in text.splitlines() if x.startswith("LoadCredential=")]
    assert [f"LoadCredential={n}" for n in ("broker-password", "page-passphrase", "phone-url")] == names
    assert str(laid.root) not in re.sub(r"#.*", "", text)


def test_installed_again_nothing_changes(laid):
    before = laid.tree()
    again = install(laid.checkout, laid.root)
    assert 0 == again.returncode, again.stderr
    assert "Making" not in again.stderr
    assert before == laid.tree()


def openssl(*words):
    return subprocess.run(["openssl", *words], capture_output=True, text=True, timeout=60, check=False)


def test_openssl_takes_the_certificate_for_this_machine_in_any_year_a_board_may_wake_up_in(laid):
    ca, own = laid.root / "etc/vermistat/broker-ca.pem", laid.root / "etc/mosquitto/vermistat/broker.pem"
    for when in (datetime(2020, 1, 2, tzinfo=UTC), datetime(2040, 1, 1, tzinfo=UTC)):
        seconds = str(int(when.timestamp()))
        for name in ("localhost", os.uname().nodename):
            done = openssl("verify", "-CAfile", ca, "-x509_strict", "-purpose", "sslserver", "-attime", seconds,
                           "-verify_hostname", name, own)  # fmt: skip
            assert 0 == done.returncode, done.stderr
    assert 0 != openssl("verify", "-CAfile", ca, "-verify_hostname", "elsewhere.example", own).returncode


def published(port, laid, user, password, topic):
    """What a broker says to a probe that publishes there, under MQTT 5, which says whether it may."""
    return subprocess.run(
        ["mosquitto_pub", "-V", "5", "-h", "localhost", "-p", str(port), "-u", user, "-P", password, "-q", "1", "-t", topic,
         "-m", "20.5", "--cafile", laid.root / "etc/vermistat/broker-ca.pem"],
        capture_output=True, text=True, timeout=30, check=False,
    )  # fmt: skip


@contextmanager
def broker_of(laid):
    """A Mosquitto under the very files that were written, on a port of the test's."""
    broker = Mosquitto(start=False)
    for file in (laid.root / "etc/mosquitto/vermistat").iterdir():
        shutil.copy(file, broker.folder)
    text = (laid.root / "etc/mosquitto/conf.d/vermistat.conf").read_text()
    text = text.replace("listener 8883", f"listener {broker.port} 127.0.0.1")
    text = text.replace("/etc/mosquitto/vermistat", str(broker.folder)) + "log_dest stderr\n"
    (broker.folder / "mosquitto.conf").write_text(text)
    broker._hand_over()
    with broker:
        broker.start()
        yield broker.port


def test_a_real_broker_lets_a_probe_publish_its_own_topics_and_no_other(laid):
    with broker_of(laid) as port:
        password = (laid.root / "etc/vermistat/probes/fig-middle").read_text().strip()
        for topic in ("probes/fig-middle", "probes/fig-middle/battery"):
            done = published(port, laid, "fig-middle", password, topic)
            assert (0, "") == (done.returncode, done.stderr)
        for topic in ("probes/plum-middle", "vermistat/porch/alive", "probes/fig-middleman"):
            done = published(port, laid, "fig-middle", password, topic)
            assert "Not authorized" in done.stderr + done.stdout, topic
        assert 0 != published(port, laid, "fig-middle", "wrong", "probes/fig-middle").returncode
        ours = (laid.root / "etc/vermistat/credentials/broker-password").read_text().strip()
        assert "" == published(port, laid, "vermistat", ours, "vermistat/porch/alive").stderr


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ("bin=Fig Tub\n", "bin=Fig Tub cannot be: Write small letters, digits and hyphens"),
        ("species=tulip\n", "tulip"),
        ("timezone=Europe/Atlantis\n", "Europe/Atlantis"),
        ("evening=25:00\n", "evening=25:00 cannot be: Write it as 22:00."),
        ("page=everybody\n", "page=everybody cannot be: Write here or network."),
        ("colour=green\n", "1:colour=green"),
        ("send_to=no address\n", "send_to=no address cannot be"),
    ],
)
def test_an_answer_that_cannot_be_is_refused_and_leaves_no_settings(laid, tmp_path, answers, said):
    root = tmp_path / "root"
    shutil.copytree(laid.root, root, symlinks=True)
    (root / "etc/vermistat/vermistat.yaml").unlink()
    (root / "etc/vermistat/credentials/phone-url").unlink()
    done = install(laid.checkout, root, answers=answers)
    assert 1 == done.returncode
    assert said in done.stderr
    assert not (root / "etc/vermistat/vermistat.yaml").exists()
    assert not (root / "etc/vermistat/credentials/phone-url").exists()


def test_the_questions_are_asked_and_a_wrong_answer_is_asked_again(laid, tmp_path):
    root = tmp_path / "root"
    shutil.copytree(laid.root, root, symlinks=True)
    (root / "etc/vermistat/vermistat.yaml").unlink()
    typed = "\n".join(["shed", "Europe/Lisbon", "The Tub", "plum", "", "", "ben", "", "", "none", "here"]) + "\n"
    done = install(laid.checkout, root, typed=typed, answers=None)
    assert 0 == done.returncode, done.stderr
    assert "That cannot be: Write small letters" in done.stderr
    text = (root / "etc/vermistat/vermistat.yaml").read_text()
    for line in ("site: {id: shed, timezone: Europe/Lisbon}", "  plum:", "page: {}"):
        assert line in text.splitlines()
    assert "people" not in text
    (root / "etc/vermistat/vermistat.yaml").unlink()
    unanswered = install(laid.checkout, root, typed="", answers=None)
    assert 1 == unanswered.returncode
    assert "There is nobody to answer" in unanswered.stderr


def test_another_probe_and_a_publisher_are_let_in_by_a_call_each(laid, tmp_path):
    root = tmp_path / "root"
    shutil.copytree(laid.root, root, symlinks=True)
    assert 0 == install(laid.checkout, root, "--probe", "plum-middle").returncode
    for probes in ("fig-west", "fig-west,fig-east"):
        done = install(laid.checkout, root, "--publisher", "shed", "--probes", probes)
        assert 0 == done.returncode, done.stderr
    text = (root / "etc/mosquitto/vermistat/access").read_text()
    assert 1 == text.count("user shed\n")
    assert "topic write probes/fig-east\ntopic read vermistat/porch/durable/fig-east\n" in text
    names = [x.split(":")[0] for x in (root / "etc/mosquitto/vermistat/passwords").read_text().splitlines()]
    assert ["vermistat", "fig-middle", "plum-middle", "shed"] == names
    refused = install(laid.checkout, root, "--publisher", "shed")
    assert "Which sensors are wired to it?" in refused.stderr


def test_an_upgrade_switches_to_a_new_environment_keeps_the_one_before_and_the_settings(laid, tmp_path):
    checkout, root = checkout_in(tmp_path / "newer"), tmp_path / "root"
    assert "Nothing is installed here yet" in install(checkout, root, "--upgrade").stderr
    shutil.copytree(laid.root, root, symlinks=True, dirs_exist_ok=True)
    assert "This very program is what runs already." in install(checkout, root, "--upgrade").stderr
    first, settings = (
        os.readlink(root / "opt/vermistat/current"),
        (root / "etc/vermistat/vermistat.yaml").read_text(),
    )

    with (checkout / "monitor/readings.py").open("a") as file:
        file.write("raise SystemExit('broken on purpose')\n")
    broken = install(checkout, root, "--upgrade")
    assert 1 == broken.returncode
    assert "the program that runs was left as it is" in broken.stderr
    assert first == os.readlink(root / "opt/vermistat/current")

    shutil.copy(ROOT / "monitor/readings.py", checkout / "monitor/readings.py")
    (checkout / "deploy/demo.sh").write_text("# another\n")
    newer = install(checkout, root, "--upgrade")
    assert 0 == newer.returncode, newer.stderr
    assert first != (second := os.readlink(root / "opt/vermistat/current"))
    assert (
        f"It runs from {root}/opt/vermistat/{second}; the one before it is kept in {root}/opt/vermistat/{first}."
        in newer.stderr
    )
    assert {first, second} == {p.name for p in (root / "opt/vermistat").glob("2*")}
    assert settings == (root / "etc/vermistat/vermistat.yaml").read_text()


def test_uninstalled_it_keeps_what_it_kept_unless_told_otherwise_and_asks(laid, tmp_path):
    root = tmp_path / "root"
    shutil.copytree(laid.root, root, symlinks=True)
    kept = root / "var/lib/vermistat"
    kept.mkdir(parents=True)
    (kept / "porch.db").write_text("readings")
    no = install(laid.checkout, root, "--uninstall", typed="no\n", answers=None)
    assert (1, True) == (no.returncode, (root / "opt/vermistat/current").exists())
    assert 0 == install(laid.checkout, root, "--uninstall").returncode
    left = {str(p.relative_to(root)) for p in root.rglob("*") if p.is_file()}
    assert not [x for x in left if x.startswith(("opt", "usr", "etc/systemd", "etc/mosquitto/conf.d"))]
    assert {
        "var/lib/vermistat/porch.db",
        "etc/vermistat/vermistat.yaml",
        "etc/mosquitto/vermistat/passwords",
    } <= left
    assert 0 == install(laid.checkout, root, "--uninstall", "--with-data", typed="yes\n", answers=None).returncode
    assert [] == [p for p in root.rglob("*") if p.is_file() and "run/lock" not in str(p)]


def test_a_broker_that_somebody_else_set_up_is_left_alone(laid, tmp_path):
    shutil.copytree(laid.root, tmp_path / "root", symlinks=True)
    theirs = tmp_path / "root/etc/mosquitto/conf.d/house.conf"
    theirs.write_text("listener 1883\nallow_anonymous true\n")
    done = install(laid.checkout, tmp_path / "root")
    assert 1 == done.returncode
    assert "already set up, by /etc/mosquitto/conf.d/house.conf" in done.stderr
    assert "--no-broker" in done.stderr


def test_packages_come_from_a_folder_or_not_at_all(laid, tmp_path):
    checkout = checkout_in(tmp_path / "checkout")
    digest = "0" * 64
    (checkout / "deploy/requirements/runtime.txt").write_text(f"pebble==1.0 \\\n    --hash=sha256:{digest}\n")
    (tmp_path / "wheels").mkdir()
    done = install(checkout, tmp_path / "root", "--wheels", tmp_path / "wheels")
    assert 1 == done.returncode
    assert "nothing was changed" in done.stderr
    assert "--wheels FOLDER" in done.stderr
    assert [] == list((tmp_path / "root/opt/vermistat").iterdir())


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--wheels", "/nowhere"), "There is no folder /nowhere"),
        (("--probe", "fig"), "There is no broker of ours here yet"),
        (("--answers",), "--answers wants a value behind it"),
        (("--sideways",), "--sideways is nothing this script knows."),
    ],
)
def test_a_call_that_cannot_be_followed_says_what_to_do(tmp_path, options, said):
    done = subprocess.run(
        ["/bin/sh", ROOT / "deploy/install.sh", "--root", tmp_path / "root", *options],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert said in done.stderr
    assert done.returncode in (1, 64)


def test_a_machine_with_sensors_alone_gets_no_broker_and_no_bins(laid, tmp_path):
    root = tmp_path / "root"
    shutil.copytree(laid.root / "opt", root / "opt", symlinks=True)
    done = install(laid.checkout, root, "--wired-only", answers=None)
    assert 0 == done.returncode, done.stderr
    assert "Now write" in done.stderr
    assert "publisher.yaml" in done.stderr
    assert (root / "etc/systemd/system/vermistat-publisher.service").exists()
    assert not (root / "etc/mosquitto").exists()
    assert not (root / "etc/vermistat/vermistat.yaml").exists()
