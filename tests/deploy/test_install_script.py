"""deploy/install.sh below a folder of its own: what it puts where, again and again."""

import re
import shutil
from pathlib import Path

import pytest

from chamberwatch.settings import load
from tests.deploy.pi import BROKER, COMMAND, DAEMONS, PASSWORDS, PROGRAM, STATE, UNIT, Pi
from tests.deploy.shell import CHECKOUT

needs_mosquitto = pytest.mark.skipif(
    shutil.which("mosquitto_passwd") is None,
    reason="mosquitto_passwd is not installed: sudo apt install mosquitto",
)


@pytest.fixture
def pi(tmp_path: Path) -> Pi:
    return Pi(tmp_path)


@needs_mosquitto
def test_everything_is_put_in_its_place(pi: Pi) -> None:
    run = pi.install()
    assert (run.returncode, run.stderr) == (0, "")
    there = pi.there()
    assert there[BROKER] == (CHECKOUT / "deploy/broker.conf").read_text()
    assert there["etc/mosquitto/chamberwatch.acl"] == (CHECKOUT / "deploy/broker.acl").read_text()
    assert there[UNIT] == (CHECKOUT / "deploy/chamberwatch.service").read_text()
    assert there[COMMAND] == (CHECKOUT / "deploy/command").read_text()
    assert pi.mode(COMMAND) == 0o755
    assert pi.root.joinpath(PROGRAM, "venv/bin/chamberwatch").exists()
    (installation,) = pi.installations()
    assert installation.endswith(f"constraints.txt {pi.checkout}[images,postgres]")
    assert "--editable" not in installation


@pytest.mark.parametrize(
    ("options", "username", "window"),
    [
        pytest.param((), "chamberwatch", 500, id="this broker", marks=needs_mosquitto),
        pytest.param(("--no-broker",), None, 15, id="own broker"),
    ],
)
def test_settings_to_start_from_fit_the_broker(
    pi: Pi, options: tuple[str, ...], username: str | None, window: int
) -> None:
    pi.install(*options)
    settings = load(pi.root / STATE, {})
    assert (settings.mqtt.username, settings.mqtt.window) == (username, window)
    shipped = load(CHECKOUT / "config/chamberwatch.toml", {})
    assert (settings.sensor, settings.chamber) == (shipped.sensor, shipped.chamber)
    assert settings.database.url == f"sqlite:///{pi.root}/var/lib/chamberwatch/chamberwatch.db"
    assert pi.mode(STATE) == 0o640


@needs_mosquitto
def test_passwords_are_random_hashed_and_private(pi: Pi) -> None:
    run = pi.install()
    shown = re.search(r"password  (\S+)", run.stdout)
    assert shown is not None
    there = pi.there()
    daemon, sensor = there[DAEMONS], shown[1]
    assert len(daemon) == len(sensor) == 24
    assert daemon != sensor
    assert [line.split(":")[0] for line in there[PASSWORDS].split()] == ["chamberwatch", "sensor"]
    holders = [name for name, text in there.items() if daemon in text or sensor in text]
    assert holders == [DAEMONS]
    assert daemon not in run.stdout
    assert pi.mode(DAEMONS) == pi.mode(PASSWORDS) == 0o600
    assert pi.mode("etc/chamberwatch") == 0o700


@needs_mosquitto
@pytest.mark.parametrize(
    "options", [pytest.param((), id="as usual"), pytest.param(("--tls",), id="encrypted")]
)
def test_again_it_changes_nothing(pi: Pi, options: tuple[str, ...]) -> None:
    pi.install(*options)
    pi.root.joinpath(STATE).write_text("# my own\n")
    before = pi.all()
    run = pi.install()
    assert (run.returncode, run.stderr) == (0, "")
    assert pi.all() == before
    assert len(pi.installations()) == 1
    assert "nothing was changed" in run.stdout


@needs_mosquitto
def test_rights_that_went_astray_are_mended(pi: Pi) -> None:
    pi.install()
    right = {
        STATE: 0o640,
        DAEMONS: 0o600,
        PASSWORDS: 0o600,
        BROKER: 0o644,
        UNIT: 0o644,
        "etc/chamberwatch": 0o700,
        "var/lib/chamberwatch": 0o750,
    }
    before = pi.there()
    assert {name: pi.mode(name) for name in right} == right
    for name in right:
        pi.root.joinpath(name).chmod(0o777)
    run = pi.install()
    assert {name: pi.mode(name) for name in right} == right
    assert pi.there() == before
    assert "nothing was changed" not in run.stdout


@needs_mosquitto
@pytest.mark.parametrize("gone", [pytest.param(n, id=n) for n in (DAEMONS, PASSWORDS)])
def test_passwords_broken_off_half_way_are_made_anew(pi: Pi, gone: str) -> None:
    pi.install()
    before = pi.there()
    pi.root.joinpath(gone).unlink()
    assert "password  " in pi.install().stdout
    after = pi.there()
    assert after[DAEMONS] != before[DAEMONS]
    assert after[PASSWORDS] != before[PASSWORDS]


@needs_mosquitto
def test_broker_file_changed_by_hand_stays_and_an_unchanged_one_is_renewed(pi: Pi) -> None:
    pi.install()
    shipped = pi.checkout / "deploy/broker.conf"
    shipped.write_text(shipped.read_text() + "# newer\n")
    pi.install()
    assert pi.there()[BROKER].endswith("# newer\n")

    pi.root.joinpath(BROKER).write_text("listener 1883 127.0.0.1\n")
    shipped.write_text(shipped.read_text() + "# newest\n")
    run = pi.install()
    assert "changed by you and stays" in run.stdout
    assert pi.there()[BROKER] == "listener 1883 127.0.0.1\n"
    assert pi.there()[f"{BROKER}.new"].endswith("# newest\n")


WIRED = "etc/systemd/system/chamberwatch-wired.service"
WIREDS = "etc/chamberwatch/wired_password"


@needs_mosquitto
def test_wired_sensors_get_a_service_and_a_user_of_their_own(pi: Pi) -> None:
    run = pi.install("--wired")
    assert (run.returncode, run.stderr) == (0, "")
    there = pi.there()
    assert there[WIRED] == (CHECKOUT / "deploy/chamberwatch-wired.service").read_text()
    assert pi.installations()[0].endswith("[images,postgres,scd30,scd4x,sht4x]")
    users = [line.split(":")[0] for line in there[PASSWORDS].split()]
    assert users == ["chamberwatch", "sensor", "wired"]
    assert len(there[WIREDS]) == 24
    assert [name for name, text in there.items() if there[WIREDS] in text] == [WIREDS]
    modes = {(pi.root / each).stat().st_mode & 0o777 for each in (WIREDS, PASSWORDS)}
    assert modes == {0o600}
    settings = load(pi.root / STATE, {"CREDENTIALS_DIRECTORY": str(pi.root / "etc/chamberwatch")})
    assert settings.mqtt.wired_username == "wired"
    assert settings.mqtt.wired_password is not None
    assert "wired --look" in run.stdout
    assert "below [mqtt]" not in run.stdout


@needs_mosquitto
def test_wires_added_later_disturb_no_other_password(pi: Pi) -> None:
    pi.install()
    before = pi.there()
    run = pi.install("--wired")
    after = pi.there()
    assert after[PASSWORDS].startswith(before[PASSWORDS])
    assert after[DAEMONS] == before[DAEMONS]
    assert after[STATE] == before[STATE]
    assert 'below [mqtt] in the settings: wired_username = "wired"' in run.stdout


@needs_mosquitto
def test_what_wires_need_is_kept_and_upgraded_without_asking_again(pi: Pi) -> None:
    pi.install("--wired")
    before = pi.there()
    pi.install()
    assert pi.there() == before
    # Without the drivers it would be another program, and made anew.
    assert len(pi.installations()) == 1
    pi.install("--new-passwords")
    after = pi.there()
    assert after[WIREDS] != before[WIREDS]
    assert [line.split(":")[0] for line in after[PASSWORDS].split()][-1] == "wired"


def test_wires_with_a_broker_of_ones_own(pi: Pi) -> None:
    run = pi.install("--wired", "--no-broker")
    assert run.returncode == 0
    assert pi.there()[WIREDS] == ""
    # An empty password is none.
    path = str(pi.root / "etc/chamberwatch")
    assert load(pi.root / STATE, {"CREDENTIALS_DIRECTORY": path}).mqtt.wired_password is None


@needs_mosquitto
def test_uninstalling_takes_the_wires_along(pi: Pi) -> None:
    pi.install("--wired")
    pi.install("--uninstall")
    assert WIRED not in pi.there()
    assert WIREDS not in pi.there()


@needs_mosquitto
def test_new_passwords_replace_both(pi: Pi) -> None:
    pi.install()
    before = pi.there()
    pi.install("--new-passwords")
    after = pi.there()
    assert after[DAEMONS] != before[DAEMONS]
    assert after[PASSWORDS] != before[PASSWORDS]


@needs_mosquitto
@pytest.mark.parametrize(
    "options",
    [
        pytest.param((), id="install"),
        pytest.param(("--new-passwords",), id="new passwords"),
        pytest.param(("--no-broker",), id="own broker"),
        pytest.param(("--tls",), id="tls"),
        pytest.param(("--uninstall",), id="uninstall"),
        pytest.param(("--purge",), id="purge"),
    ],
)
@pytest.mark.parametrize("first", [False, True], ids=["bare", "installed"])
def test_dry_run_changes_nothing(pi: Pi, options: tuple[str, ...], *, first: bool) -> None:
    if first:
        pi.install()
    pi.root.mkdir(exist_ok=True)
    before = pi.there()
    folders = sorted(pi.root.rglob("*"))
    run = pi.install("--dry-run", *options)
    assert run.returncode == 0
    is_done = first and options in ((), ("--no-broker",))
    assert ("would: " in run.stdout, "nothing was changed" in run.stdout) == (not is_done, is_done)
    assert pi.there() == before
    assert sorted(pi.root.rglob("*")) == folders


def test_what_is_done_below_a_folder_is_undone_there(pi: Pi) -> None:
    said = pi.install("--no-broker").stdout
    assert f"Installed below {pi.root}: " in said
    assert "Next, once that is booted:" in said
    assert "sudo nano /var/lib/chamberwatch/chamberwatch.toml" in said
    again = f": sudo deploy/install.sh --root {pi.root}"
    assert f"{again} --purge\n" in pi.install("--uninstall").stdout
    assert pi.install("--purge").stderr.endswith(f"{again} --uninstall\n")


def test_a_command_of_another_is_left_alone(pi: Pi) -> None:
    theirs = pi.root / COMMAND
    theirs.parent.mkdir(parents=True)
    theirs.write_text("#!/bin/sh\n")
    run = pi.install("--no-broker")
    assert run.returncode == 0
    assert f"{theirs} is not of this script and stays as it is. The command is " in run.stdout
    assert f"{pi.root / PROGRAM}/venv/bin/chamberwatch --config {pi.root / STATE}." in run.stdout
    pi.install("--uninstall")
    assert theirs.read_text() == "#!/bin/sh\n"


@pytest.mark.parametrize("wires", [False, True])
def test_the_command_works_as_the_service_for_root(pi: Pi, wires: bool) -> None:
    pi.put_tool("id", "#!/bin/bash\necho 0\n")
    pi.put_tool("getent", f"#!/bin/bash\nexit {0 if wires else 2}\n")
    pi.put_tool(
        "runuser", '#!/bin/bash\nprintf \'%s\\n\' "$CHAMBERWATCH_CONFIG" "$HOME" "$@"\nexit 3\n'
    )
    run = pi.run("deploy/command", "batch", "start", "--note", "two words")
    groups = ["--group=chamberwatch", "--supp-group=i2c"] if wires else []
    assert run.returncode == 3
    assert run.stdout.splitlines() == [
        *("/var/lib/chamberwatch/chamberwatch.toml", "/var/lib/chamberwatch"),
        *("--user=chamberwatch", *groups, "--", "/opt/chamberwatch/venv/bin/chamberwatch"),
        *("batch", "start", "--note", "two words"),
    ]


@needs_mosquitto
def test_uninstall_keeps_settings_and_data(pi: Pi) -> None:
    pi.install()
    pi.root.joinpath("var/lib/chamberwatch/chamberwatch.db").write_text("years of it")
    run = pi.install("--uninstall")
    assert run.returncode == 0
    assert set(pi.there()) == {STATE, "var/lib/chamberwatch/chamberwatch.db"}
    assert "stay in" in run.stdout
    assert pi.install("--uninstall").returncode == 0
    assert pi.install().returncode == 0


def test_own_broker_leaves_mosquitto_alone(pi: Pi) -> None:
    pi.without("mosquitto_passwd")
    run = pi.install("--no-broker")
    assert run.returncode == 0
    assert not [name for name in pi.there() if name.startswith("etc/mosquitto")]
    assert pi.there()[DAEMONS] == ""
    pi.root.joinpath(DAEMONS).write_text("my broker's")
    pi.install("--no-broker")
    assert pi.there()[DAEMONS] == "my broker's"


@pytest.mark.parametrize(
    ("options", "pretend", "missing", "said"),
    [
        pytest.param(("--bogus",), {}, (), "--help", id="unknown option"),
        pytest.param(("--root",), {}, (), "needs a folder", id="no folder"),
        pytest.param(("--root", "/nowhere/at/all"), {}, (), "make it first", id="missing folder"),
        pytest.param(("--no-broker", "--new-passwords"), {}, (), "leave one out", id="both"),
        pytest.param(("--no-broker", "--tls"), {}, (), "leave one out", id="tls of no broker"),
        pytest.param(("--wheel",), {}, (), "needs a file", id="no wheel"),
        pytest.param(("--wheel", "/nowhere.whl"), {}, (), "needs a file", id="missing wheel"),
        pytest.param(("--tls",), {}, ("openssl",), "sudo apt install openssl", id="no openssl"),
        pytest.param((), {}, ("python3",), "sudo apt install python3", id="no python"),
        pytest.param((), {"PRETEND_OLD": "3.9"}, (), "Bookworm", id="old python"),
        pytest.param((), {"PRETEND_NO_VENV": "1"}, (), "python3-venv", id="no venv"),
        pytest.param(
            (), {}, ("mosquitto_passwd",), "sudo apt install mosquitto", id="no broker installed"
        ),
        pytest.param(
            ("--no-broker",), {"PRETEND_PIP_ERROR": "odd"}, (), "install.log", id="pip fails"
        ),
        pytest.param(
            ("--no-broker",), {"PRETEND_FAULT": "chamberwatch"}, (), "--version", id="does not run"
        ),
    ],
)
def test_install_failure_is_one_line_with_the_cure(
    pi: Pi,
    options: tuple[str, ...],
    pretend: dict[str, str],
    missing: tuple[str, ...],
    said: str,
) -> None:
    pi.pretend.update(pretend)
    pi.without(*missing)
    run = pi.install(*options)
    assert run.returncode == 1
    assert len(run.stderr.splitlines()) == 1
    assert said in run.stderr


@needs_mosquitto
def test_broker_settings_of_another_are_not_fought(pi: Pi) -> None:
    other = pi.root / "etc/mosquitto/conf.d/mine.conf"
    other.parent.mkdir(parents=True)
    other.write_text("# mine\n  listener 1883\n")
    run = pi.install()
    assert run.returncode == 1
    assert str(other) in run.stderr
    assert "--no-broker" in run.stderr
    assert list(pi.there()) == ["etc/mosquitto/conf.d/mine.conf"]


def test_install_help_names_every_option(pi: Pi) -> None:
    text = pi.run("deploy/install.sh", "--help").stdout
    script = (CHECKOUT / "deploy/install.sh").read_text()
    known = set(re.findall(r"^ +(--[a-z-]+)(?: \| -h)?\)", script, re.MULTILINE))
    assert known == set(re.findall(r"^  (--[a-z-]+)", text, re.MULTILINE))
