"""What is looked at where chamberwatch was installed for real."""

import json
import re
import threading
import time
from typing import Any, Final

from tests.deploy.bare_root import House, wait_for

SCRIPT: Final = "/srv/checkout/deploy/install.sh"
PROGRAM: Final = "/opt/chamberwatch"
STATE: Final = "/var/lib/chamberwatch"
SETTINGS: Final = f"{STATE}/chamberwatch.toml"
DATABASE: Final = f"{STATE}/chamberwatch.db"
PYTHON: Final = f"{PROGRAM}/venv/bin/python"
CHAMBERWATCH: Final = f"{PROGRAM}/venv/bin/chamberwatch"
COMMAND: Final = "/usr/local/bin/chamberwatch"
AUTHORITY: Final = "/etc/mosquitto/ca_certificates/chamberwatch-ca.crt"

OWNERS: Final = {
    "/opt/chamberwatch": "755 root:root",
    COMMAND: "755 root:root",
    STATE: "750 chamberwatch:chamberwatch",
    SETTINGS: "640 chamberwatch:chamberwatch",
    DATABASE: "600 chamberwatch:chamberwatch",
    "/etc/chamberwatch": "700 root:root",
    "/etc/chamberwatch/mqtt_password": "600 root:root",
    "/etc/mosquitto/chamberwatch.passwd": "600 mosquitto:mosquitto",
    "/etc/mosquitto/chamberwatch.acl": "644 root:root",
    "/etc/mosquitto/conf.d/chamberwatch.conf": "644 root:root",
    "/etc/systemd/system/chamberwatch.service": "644 root:root",
}
OF_TLS: Final = {
    "/etc/chamberwatch/ca.key": "600 root:root",
    AUTHORITY: "644 root:root",
    "/etc/mosquitto/certs/chamberwatch.crt": "644 root:root",
    "/etc/mosquitto/certs/chamberwatch.key": "640 root:mosquitto",
}


def install(house: House, wheel: str, *options: str, ok: bool = True) -> str:
    """Run the script with a wheel."""
    return house.run(SCRIPT, "--wheel", f"/srv/wheels/{wheel}", *options, ok=ok)


def store_at_once(house: House) -> None:
    """Let readings be written each second, so that nobody has to wait to see them."""
    path = house.path(SETTINGS)
    text = path.read_text()
    assert 'commit_every = "30 s"' in text
    path.write_text(text.replace('commit_every = "30 s"', 'commit_every = "1 s"'))


def rights(house: House, *names: str) -> dict[str, str]:
    """Return mode and owner of each."""
    lines = house.run("stat", "-c", "%n %a %U:%G", *names).splitlines()
    return dict(line.split(" ", 1) for line in lines)


def all_files(house: House) -> dict[str, str]:
    """Return every file that an installation concerns, with all that can change of it."""
    places = ["/opt", "/etc", "/usr", "/var/lib/chamberwatch/chamberwatch.toml"]
    lines = house.run("find", *places, "-printf", "%p\t%y %m %U:%G %s %T@ %C@ %l\n").splitlines()
    return dict(line.split("\t", 1) for line in lines)


def changed(before: dict[str, str], after: dict[str, str]) -> list[str]:
    """Return the names of what is new, gone or different."""
    return sorted({name for name, _ in before.items() ^ after.items()})


def password_in(said: str) -> str:
    """Return the password that was shown for the sensors."""
    shown = re.search(r"password  (\S+)", said)
    assert shown is not None, said
    return shown[1]


def speak(house: House, password: str, value: float, *encrypted: str) -> None:
    """Publish one reading as a sensor does."""
    house.run(
        *("mosquitto_pub", "-u", "sensor", "-P", password, "-q", "1", *encrypted),
        *("-t", "tent/top/humidity", "-m", str(value)),
    )


def humidities(house: House) -> list[float]:
    """Return what the service has taken in, by its own answer."""
    ask = (
        "import sys, urllib.request as u; "
        "sys.stdout.write(u.urlopen(sys.argv[1], timeout=5).read().decode())"
    )
    url = "http://127.0.0.1:8642/api/v1/readings?chamber=tent&quantity=humidity_pct&limit=1000"
    said = house.start([PYTHON, "-c", ask, url])
    if said.returncode:
        return []
    answer: dict[str, Any] = json.loads(said.stdout)
    return [each["value"] for each in answer["rows"]]


def is_heard(house: House, password: str, value: float, *encrypted: str) -> None:
    """Hold that what a sensor goes on to say reaches the pages."""

    def arrives() -> bool:
        speak(house, password, value, *encrypted)
        return value in humidities(house)

    # With pauses, as sensors speak: without any it is taken for what had waited at the broker.
    wait_for(arrives, f"{value} was taken in", 90.0, every_s=1.0)


def steps(house: House, database: str = DATABASE) -> list[str]:
    """Return the steps a database has behind it."""
    ask = (
        "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); "
        "print('\\n'.join(n for n, in c.execute('SELECT name FROM migrations')))"
    )
    return house.run("runuser", "-u", "chamberwatch", "--", PYTHON, "-c", ask, database).split(
        "\n"
    )[:-1]


def megabytes(house: House, name: str) -> str:
    """Return what a folder takes on the disk."""
    return house.run("du", "-sm", name).split()[0] + " MB"


def is_active(house: House) -> bool:
    """Tell whether the service runs."""
    said = house.start(["systemctl", "is-active", "chamberwatch"]).stdout.strip()
    return said == "active"


class Gap:
    """How long the page did not answer, looked at every tenth of a second."""

    def __init__(self, house: House) -> None:
        self._house = house
        self._stop = threading.Event()
        self._away_s = 0.0
        self._thread = threading.Thread(target=self._listen)
        self._thread.start()

    def _listen(self) -> None:
        while not self._stop.wait(0.1):
            begun_s = time.monotonic()
            while not humidities(self._house) and not self._stop.is_set():
                pass
            self._away_s = max(self._away_s, time.monotonic() - begun_s)

    def ended(self) -> float:
        """Return the longest time without an answer. [s]"""
        self._stop.set()
        self._thread.join()
        return self._away_s
