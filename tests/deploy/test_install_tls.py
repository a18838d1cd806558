"""Encryption by deploy/install.sh: authority, certificate, the broker's settings and ours."""

import shutil
import subprocess
from pathlib import Path

import pytest

from tests.deploy.pi import AUTHORITY, BROKER, CERTIFICATE, KEY, STATE, Pi

pytestmark = pytest.mark.skipif(
    shutil.which("mosquitto_passwd") is None or shutil.which("openssl") is None,
    reason="mosquitto or openssl is not installed: sudo apt install mosquitto openssl",
)

CA_KEY = "etc/chamberwatch/ca.key"
USE_TLS = "use_tls.py"


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Pi:
    """Return a machine whose network gave it two addresses."""
    pi = Pi(tmp_path_factory.mktemp("fresh"))
    pi.put_tool("uname", "#!/bin/bash\necho chamberpi\n")
    pi.put_tool("hostname", "#!/bin/bash\necho 192.0.2.7 2001:db8::7\n")
    return pi


@pytest.fixture(scope="module")
def encrypted(
    fresh: Pi, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Pi, subprocess.CompletedProcess[str]]:
    pi = Pi.like(fresh, tmp_path_factory.mktemp("encrypted"))
    return pi, pi.install("--tls")


@pytest.fixture
def pi(encrypted: tuple[Pi, object], tmp_path: Path) -> Pi:
    """Return a machine where encryption is on."""
    return Pi.like(encrypted[0], tmp_path)


@pytest.fixture
def said(encrypted: tuple[Pi, subprocess.CompletedProcess[str]]) -> str:
    """Return what was said when encryption was put on, and nothing was wrong."""
    assert (encrypted[1].returncode, encrypted[1].stderr) == (0, "")
    return encrypted[1].stdout


@pytest.fixture
def plain(fresh: Pi, tmp_path: Path) -> Pi:
    """Return a machine where it is not."""
    pi = Pi.like(fresh, tmp_path)
    pi.install()
    return pi


def _openssl(pi: Pi, *words: str) -> str:
    ran = subprocess.run(
        ["openssl", *words], cwd=pi.root, capture_output=True, text=True, check=False
    )
    return ran.stdout + ran.stderr


def test_certificate_is_good_for_every_name_of_the_machine(pi: Pi) -> None:
    names = ("chamberpi", "chamberpi.local", "localhost")
    for purpose in [f"-verify_hostname {n}" for n in names] + ["-verify_ip 192.0.2.7"]:
        said = _openssl(
            pi,
            "verify",
            "-purpose",
            "sslserver",
            *purpose.split(),
            "-CAfile",
            AUTHORITY,
            CERTIFICATE,
        )
        assert said == f"{CERTIFICATE}: OK\n"
    assert "OK" not in _openssl(
        pi, "verify", "-verify_hostname", "elsewhere", "-CAfile", AUTHORITY, CERTIFICATE
    )
    assert "2001" not in _openssl(pi, "x509", "-in", CERTIFICATE, "-noout", "-text")
    years = 365 * 24 * 3600
    assert "will not" in _openssl(
        pi, "x509", "-in", CERTIFICATE, "-checkend", str(9 * years), "-noout"
    )
    assert "will not" in _openssl(
        pi, "x509", "-in", AUTHORITY, "-checkend", str(19 * years), "-noout"
    )


def test_broker_and_settings_are_pointed_at_it(pi: Pi) -> None:
    listener = [
        "listener 8883",
        f"certfile /{CERTIFICATE}",
        f"keyfile /{KEY}",
        "allow_anonymous false",
    ]
    lines = pi.there()[BROKER].splitlines()
    at = lines.index("listener 8883")
    assert lines[at : at + 4] == listener
    assert "listener 1883" not in lines
    (ran,) = [line for line in pi.python_ran() if USE_TLS in line]
    assert ran.endswith(f"{USE_TLS} {pi.root / STATE} {pi.root / AUTHORITY}")


def test_keys_are_private_and_the_authority_is_for_everybody(pi: Pi, said: str) -> None:
    modes = {name: pi.mode(name) for name in (CA_KEY, KEY, AUTHORITY, CERTIFICATE)}
    assert modes == {CA_KEY: 0o600, KEY: 0o640, AUTHORITY: 0o644, CERTIFICATE: 0o644}
    assert AUTHORITY in said
    assert "good until" in said
    assert "192.0.2.7" in said


def test_all_of_it_is_brought_onto_the_disk(encrypted: tuple[Pi, object]) -> None:
    files = {name.removesuffix(".part") for name in encrypted[0].synced()}
    assert {CA_KEY, KEY, AUTHORITY, CERTIFICATE, BROKER, STATE} <= files
    assert {"etc/chamberwatch", "etc/mosquitto/certs"} <= files


def test_it_stays_on_without_being_said_again(pi: Pi) -> None:
    before = pi.there()
    assert "nothing was changed" in pi.install().stdout
    assert pi.there() == before


@pytest.mark.parametrize(
    ("tool", "script"),
    [
        pytest.param("uname", "echo attic", id="another name"),
        pytest.param("hostname", "echo 192.0.2.8", id="another address"),
    ],
)
def test_after_a_change_of_name_it_is_renewed_and_the_authority_stays(
    pi: Pi, tool: str, script: str
) -> None:
    before = pi.there()
    pi.put_tool(tool, f"#!/bin/bash\n{script}\n")
    assert script.split()[1] in pi.install().stdout
    after = pi.there()
    assert {name for name in before if before[name] != after[name]} == {CERTIFICATE, KEY}
    assert "OK" in _openssl(pi, "verify", "-CAfile", AUTHORITY, CERTIFICATE)


def test_before_it_ends_it_is_renewed(pi: Pi) -> None:
    script = pi.checkout / "deploy/install/broker.sh"
    good = script.read_text()
    script.write_text(good.replace("-days 3650", "-days 300"))
    pi.root.joinpath(CERTIFICATE).unlink()
    pi.install()
    script.write_text(good)
    before = pi.there()
    pi.install()
    after = pi.there()
    assert {name for name in before if before[name] != after[name]} == {CERTIFICATE, KEY}


@pytest.mark.parametrize("gone", [pytest.param(n, id=n) for n in (CERTIFICATE, KEY)])
def test_broken_off_half_way_it_is_made_again(pi: Pi, gone: str) -> None:
    authority = pi.there()[AUTHORITY]
    pi.root.joinpath(gone).unlink()
    assert pi.install().returncode == 0
    assert pi.there()[AUTHORITY] == authority
    key = _openssl(pi, "pkey", "-in", KEY, "-pubout")
    assert _openssl(pi, "x509", "-in", CERTIFICATE, "-noout", "-pubkey") == key


def test_back_to_no_encryption(pi: Pi) -> None:
    run = pi.install("--no-tls")
    assert run.returncode == 0
    assert "listener 1883" in pi.there()[BROKER].splitlines()
    assert pi.python_ran()[-1].endswith(f"{USE_TLS} {pi.root / STATE}")
    assert "nothing was changed" in pi.install().stdout


def test_settings_of_a_broker_changed_by_hand_are_not_pointed_elsewhere(plain: Pi) -> None:
    plain.root.joinpath(BROKER).write_text("listener 1883 127.0.0.1\n")
    run = plain.install("--tls")
    assert run.returncode == 0
    assert f"{BROKER}.new" in run.stdout
    assert "run this again" in run.stdout
    assert not [line for line in plain.python_ran() if USE_TLS in line]


def test_certificates_of_your_own_are_left_alone(plain: Pi) -> None:
    own = "listener 8883\ncertfile /etc/mosquitto/certs/mine.crt\n"
    plain.root.joinpath(BROKER).write_text(own)
    assert plain.install().returncode == 0
    assert plain.there()[BROKER] == own
    assert AUTHORITY not in plain.there()


def test_they_go_with_the_rest(pi: Pi) -> None:
    pi.install("--uninstall")
    assert set(pi.there()) == {STATE, AUTHORITY, CA_KEY}


def test_installed_again_it_is_encrypted_and_sensors_keep_their_file(pi: Pi) -> None:
    before = pi.there()
    pi.install("--uninstall")
    run = pi.install()
    assert run.returncode == 0, run.stderr
    after = pi.there()
    assert after[AUTHORITY] == before[AUTHORITY]
    assert "listener 8883" in after[BROKER]
    assert after[STATE] == before[STATE]
