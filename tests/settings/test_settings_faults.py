"""What is said of a settings file that has faults: where, what stands there, and the cure."""

from pathlib import Path

import pytest

from chamberwatch.core.errors import SettingsError
from chamberwatch.settings import check, load
from chamberwatch.settings.salvage import validated

TENT = '[[chamber]]\nname = "tent"\nshelves = ["top"]\nstage = "fruiting"\n'
HEARD = '[[sensor]]\nname = "air"\nchamber = "tent"\ntopic = "t"\n'
JSON = '[sensor.reads.humidity]\nat = "/rh"\n'
SENSOR = TENT + HEARD
NO_KEY = "There is no such key; take it out."
NUMBERED = "".join(f'"s{n}",' for n in range(25))

ONE_LINE = (
    "Write it in one line, without control characters and without signs that turn the direction "
    "of writing; letters of every language are fine."
)

ONE_FAULT = [
    pytest.param(
        '[[chamber]]\nname = "tent"\ntitle = "Tent \\u202etnet"\n',
        f'chamber[1] "tent".title = "Tent \\u202etnet": {ONE_LINE}',
        id="a title that turns what is behind it",
    ),
    pytest.param(
        '[[chamber]]\nname = "tent"\ntitle = "Te\\u001b[2Jnt"\n',
        f'chamber[1] "tent".title = "Te\\u001b[2Jnt": {ONE_LINE}',
        id="a title that clears the terminal",
    ),
    pytest.param(
        '[[chamber]]\nname = "tent"\ntitle = "Te\\nnt"\n',
        f'chamber[1] "tent".title = "Te\\nnt": {ONE_LINE}',
        id="a title of two lines",
    ),
    pytest.param(
        "[site]\naltitude_n = 5\n",
        f"site.altitude_n = 5: {NO_KEY} Did you mean altitude_m?",
        id="a key misspelt",
    ),
    pytest.param(
        "[sight]\ntimezone = 'UTC'\n",
        f"sight: {NO_KEY} Did you mean site?",
        id="a section misspelt",
    ),
    pytest.param('"a key" = 1\n', f'"a key": {NO_KEY}', id="a key in quotation marks"),
    pytest.param('"[key]" = 1\n', f'"[key]": {NO_KEY}', id="a key like a library's own mark"),
    pytest.param('[mqtt]\n"[key]" = 1\n', f'mqtt."[key]": {NO_KEY}', id="the same further in"),
    pytest.param(
        '[site]\ntimezone = "Europe/Lisbn"\n',
        'site.timezone = "Europe/Lisbn": Write a zone such as Europe/Lisbon. '
        "Did you mean Europe/Lisbon?",
        id="an unknown zone",
    ),
    pytest.param(
        '[site]\ntimezone = "localtime"\n',
        'site.timezone = "localtime": Write a zone such as Europe/Lisbon.',
        id="the zone of the machine",
    ),
    pytest.param(
        '[site]\ntimezone = "Factory"\n',
        'site.timezone = "Factory": Write a zone such as Europe/Lisbon.',
        id="no zone at all",
    ),
    pytest.param(
        "[site]\ntimezone = 1\n",
        "site.timezone = 1: Write a text in quotation marks.",
        id="no text",
    ),
    pytest.param(
        "[site]\ntimezone = 1979-05-27\n",
        'site.timezone = "1979-05-27": Write a text in quotation marks.',
        id="a date for a text",
    ),
    pytest.param(
        '[site]\naltitude_m = "high"\n',
        'site.altitude_m = "high": Write a number.',
        id="words for a number",
    ),
    pytest.param(
        "[site]\naltitude_m = [1]\n", "site.altitude_m = [1]: Write a number.", id="a list"
    ),
    pytest.param(
        '[mqtt]\nout = "house/#"\n',
        'mqtt.out = "house/#": Write a topic such as chamberwatch or house/chamberwatch: letters, '
        "digits, hyphens, dots and underscores between slashes; or nothing, to be silent.",
        id="a prefix with a wildcard",
    ),
    pytest.param(
        '[mqtt]\nout = "/house"\n',
        'mqtt.out = "/house": Write a topic such as chamberwatch or house/chamberwatch: letters, '
        "digits, hyphens, dots and underscores between slashes; or nothing, to be silent.",
        id="a prefix with an empty level",
    ),
    pytest.param(
        SENSOR.replace('"t"', '"chamberwatch/chamber/+"') + JSON,
        'sensor[1] "air".topic = "chamberwatch/chamber/+": chamberwatch speaks there itself; '
        "choose another topic, or another mqtt.out.",
        id="a sensor where we speak",
    ),
    pytest.param(
        '[mqtt]\nout = "house"\n' + SENSOR.replace('"t"', '"house/status"') + JSON,
        'sensor[1] "air".topic = "house/status": chamberwatch speaks there itself; '
        "choose another topic, or another mqtt.out.",
        id="a sensor where we chose to speak",
    ),
    pytest.param(
        '[sign_of_life]\nurl = "file:///etc/passwd"\n',
        "sign_of_life.url: Write a whole address, such as https://watch.example/a-word-of-mine: "
        "http or https, no spaces, and nothing with an @ before the host.",
        id="a sign of life to a file",
    ),
    pytest.param(
        '[sign_of_life]\nurl = "https://u:p@h/"\n',
        "sign_of_life.url: Write a whole address, such as https://watch.example/a-word-of-mine: "
        "http or https, no spaces, and nothing with an @ before the host.",
        id="a sign of life with a password",
    ),
    pytest.param(
        '[sign_of_life]\nurl = "https://h/"\nevery = "10 s"\n',
        'sign_of_life.every = "10 s": Give 1 min at least and 24 h at the most.',
        id="a sign of life too often",
    ),
    pytest.param(
        '[sign_of_life]\nevery = "10 min"\n',
        "sign_of_life.url: Add it; it is needed.",
        id="a sign of life to nowhere",
    ),
    pytest.param(
        "[site]\naltitude_m = 9000\n",
        "site.altitude_m = 9000: Give 6000 or less.",
        id="too high a place",
    ),
    pytest.param(
        "[site]\naltitude_m = nan\n",
        "site.altitude_m = nan: Write a number.",
        id="no number at all",
    ),
    pytest.param(
        '[database]\nurl = "server://x"\n',
        'database.url = "server://x": Write sqlite:/// and a file name, such as '
        "sqlite:///chamberwatch.db; or the address of a PostgreSQL database, such as "
        "postgresql+psycopg://chamberwatch@server.home/chamberwatch.",
        id="another database",
    ),
    pytest.param(
        '[database]\ncommit_every = "1 h"\n',
        'database.commit_every = "1 h": Give 10 min at the most: so much may be lost in a power '
        "cut.",
        id="too seldom",
    ),
    pytest.param(
        "[database]\ncommit_every = 30\n",
        "database.commit_every = 30: Write a number and a unit, such as 30 s, 5 min or 2 h.",
        id="a length without a unit",
    ),
    pytest.param(
        '[database]\nkeep_raw = "29 days"\n',
        'database.keep_raw = "29 days": Give 30 days at least: what is learned of a chamber, and '
        "the weeks looked back on, need them; and 20 years at the most.",
        id="readings kept too shortly",
    ),
    pytest.param(
        '[database]\nkeep_raw = "48 h"\n',
        'database.keep_raw = "48 h": Write days, weeks or years, such as 90 days, 26 weeks or 2 '
        "years.",
        id="readings kept for hours",
    ),
    pytest.param(
        '[backup]\nfolder = "backups"\n',
        'backup.folder = "backups": Write the whole path of a folder, such as /mnt/chamberwatch; '
        "or take it out, and nothing is copied at night.",
        id="a folder somewhere",
    ),
    pytest.param(
        '[backup]\nfolder = "/"\n',
        'backup.folder = "/": Write the whole path of a folder, such as /mnt/chamberwatch; '
        "or take it out, and nothing is copied at night.",
        id="the root of all",
    ),
    pytest.param(
        '[backup]\nat = "at night"\n',
        'backup.at = "at night": Write a time of day, such as "07:30".',
        id="no time of day",
    ),
    pytest.param("[backup]\ndays = 0\n", "backup.days = 0: Give 1 or more.", id="no backup"),
    pytest.param(
        "[backup]\nmonths = 1.5\n", "backup.months = 1.5: Write a whole number.", id="a part"
    ),
    pytest.param("[mqtt]\nport = 0\n", "mqtt.port = 0: Give 1 or more.", id="port 0"),
    pytest.param(
        "[mqtt]\nport = 1.5\n", "mqtt.port = 1.5: Write a whole number.", id="half a port"
    ),
    pytest.param(
        f"[mqtt]\nport = {'9' * 4000}\n",
        f"mqtt.port = {'9' * 57}...: Give 65535 or less.",
        id="a port of 4000 digits",
    ),
    pytest.param(
        '[mqtt]\ntls = "false"\n', 'mqtt.tls = "false": Write true or false.', id="a text for tls"
    ),
    pytest.param(
        '[mqtt]\nclient_id = ""\n', 'mqtt.client_id = "": It can\'t be empty.', id="empty"
    ),
    pytest.param(
        f'[mqtt]\nclient_id = "{"c" * 80}"\n',
        f'mqtt.client_id = "{"c" * 56}...: Write no more than 23 characters.',
        id="a long value is cut",
    ),
    pytest.param(
        '[mqtt]\npasswrd = "hunter2"\n', f"mqtt.passwrd: {NO_KEY}", id="perhaps a password"
    ),
    pytest.param('password = "hunter2"\n', f"password: {NO_KEY}", id="a password at the top"),
    pytest.param(
        'mqtt = "u:hunter2@h"\n', "mqtt: Write it as a section, [mqtt].", id="no section"
    ),
    pytest.param(
        "mqtt = { port = 1, tsl = true }\n", f"mqtt.tsl: {NO_KEY} Did you mean tls?", id="inline"
    ),
    pytest.param(
        '[mqtt]\nca_file = "ca.crt"\n',
        'mqtt.ca_file = "ca.crt": Set tls = true, or take it out.',
        id="an authority without tls",
    ),
    pytest.param(
        '[web]\nhost = "tent.local"\n',
        'web.host = "tent.local": Write an address of this machine in numbers: 127.0.0.1 for this '
        "machine only, 0.0.0.0 for the home network too.",
        id="open under a name",
    ),
    pytest.param(
        '[web]\nhost = "224.0.0.1"\n',
        'web.host = "224.0.0.1": Write an address of this machine in numbers: 127.0.0.1 for this '
        "machine only, 0.0.0.0 for the home network too.",
        id="an address of many",
    ),
    pytest.param(
        '[web]\naddress = "tent.local"\n',
        'web.address = "tent.local": Write a full address, such as http://tent.local:8642.',
        id="half an address",
    ),
    pytest.param(
        "[[notify]]\nto = 5\n",
        "notify[1].to: Write a text in quotation marks.",
        id="an address that is no text",
    ),
    pytest.param(
        '[[notify]]\nname = "Phone"\nto = "json://h"\n',
        'notify[1] "Phone".name = "Phone": Use small letters, digits and hyphens, such as tent or '
        "tent-2.",
        id="a capital letter",
    ),
    pytest.param(
        '[[notify]]\nname = "phone"\n',
        'notify[1] "phone".to: Add it; it is needed.',
        id="no address",
    ),
    pytest.param(
        'notify = ["mailtos://u:hunter2@h"]\n',
        "notify[1]: Write each as a section of its own that begins with [[notify]].",
        id="an address without a section",
    ),
    pytest.param(
        'notify = "mailtos://u:hunter2@h"\n',
        "notify: Write each as a section of its own that begins with [[notify]].",
        id="notify as a text",
    ),
    pytest.param(
        '[chamber]\nname = "tent"\n',
        "chamber: Write each as a section of its own that begins with [[chamber]].",
        id="one bracket too few",
    ),
    pytest.param(
        'chamber = ["tent"]\n',
        'chamber[1] = "tent": Write each as a section of its own that begins with [[chamber]].',
        id="a chamber that is a text",
    ),
    pytest.param("[[chamber]]\n", "chamber[1].name: Add it; it is needed.", id="no name"),
    pytest.param(
        "[[chamber]]\nname = 5\n",
        "chamber[1].name = 5: Write a text in quotation marks.",
        id="a name that is a number",
    ),
    pytest.param(
        TENT.replace("fruiting", "fruting"),
        'chamber[1] "tent".stage = "fruting": Write one of colonisation, fruiting. '
        "Did you mean fruiting?",
        id="an unknown stage",
    ),
    pytest.param(
        TENT + "volume_l = 0\n",
        'chamber[1] "tent".volume_l = 0: Give more than 0.',
        id="no air at all",
    ),
    pytest.param(
        '[[chamber]]\nname = "tent"\nshelves = "top"\n',
        'chamber[1] "tent".shelves = "top": Write a list, such as ["top", "bottom"].',
        id="shelves that are no list",
    ),
    pytest.param(
        f'[[chamber]]\nname = "tent"\nshelves = [{NUMBERED}]\n',
        'chamber[1] "tent".shelves = '
        '["s0", "s1", "s2", "s3", "s4", "s5", "s6", "s7", "s8", "s...: '
        "Name no more than 24.",
        id="too many shelves",
    ),
    pytest.param(
        TENT.replace('["top"]', '["top", "top"]'),
        'chamber[1] "tent": Two shelves have the same name; give each its own.',
        id="shelves of one name",
    ),
    pytest.param(
        TENT.replace('["top"]', '["core"]'),
        'chamber[1] "tent": A shelf can\'t be called core; that is a place already.',
        id="a shelf called as a place",
    ),
    pytest.param(
        TENT + TENT,
        'chamber.name = "tent": Two have this name; give each its own.',
        id="two chambers of one name",
    ),
    pytest.param(
        TENT + 'surrounding = "tent"\n',
        'chamber[1] "tent".surrounding = "tent": A chamber can\'t stand in itself; name its room.',
        id="in itself",
    ),
    pytest.param(
        TENT + 'surrounding = "rom"\n[[chamber]]\nname = "room"\n',
        'chamber[1] "tent".surrounding = "rom": There is no such chamber. Did you mean room?',
        id="a room misspelt",
    ),
    pytest.param(
        TENT + 'surrounding = "cellar"\n',
        'chamber[1] "tent".surrounding = "cellar": There is no such chamber. Add it first.',
        id="a room that is not there",
    ),
    pytest.param(
        TENT + 'surrounding = "tub"\n[[chamber]]\nname = "tub"\nstage = "fruiting"\n',
        'chamber[1] "tent".surrounding = "tub": That one grows something; name a [[chamber]] '
        "without a stage, a room.",
        id="in a chamber that grows",
    ),
    pytest.param(
        SENSOR.replace('r = "tent"', 'r = "cellar"') + JSON,
        'sensor[1] "air".chamber = "cellar": There is no such chamber. Known: tent.',
        id="an unknown chamber",
    ),
    pytest.param(
        HEARD + JSON,
        'sensor[1] "air".chamber = "tent": There is no such chamber. Add it first.',
        id="no chamber at all",
    ),
    pytest.param(
        SENSOR + 'place = "tip"\n' + JSON,
        'sensor[1] "air".place = "tip": There is no such place in that chamber. Did you mean top?',
        id="an unknown shelf",
    ),
    pytest.param(
        SENSOR.replace('"t"', '"tent/#/t"') + JSON,
        'sensor[1] "air".topic = "tent/#/t": A + stands for one whole level and a # only for the '
        "end, as in tent/+/climate.",
        id="a stray #",
    ),
    pytest.param(
        SENSOR.replace('"t"', '"tent+"') + JSON,
        'sensor[1] "air".topic = "tent+": A + stands for one whole level and a # only for the '
        "end, as in tent/+/climate.",
        id="a stray +",
    ),
    pytest.param(
        SENSOR + 'payload = "jason"\n' + JSON,
        'sensor[1] "air".payload = "jason": Write one of "json", "number" or "senml".',
        id="an unknown payload",
    ),
    pytest.param(SENSOR, 'sensor[1] "air".reads: Add it; it is needed.', id="nothing to read"),
    pytest.param(
        SENSOR + "[sensor.reads]\n",
        'sensor[1] "air".reads: Name at least one, as in [sensor.reads.humidity].',
        id="an empty reads",
    ),
    pytest.param(
        SENSOR + "reads = 5\n",
        'sensor[1] "air".reads = 5: Write it as a section, [sensor.reads].',
        id="reads that is a number",
    ),
    pytest.param(
        SENSOR + 'reads.humidity = "/rh"\n',
        'sensor[1] "air".reads.humidity = "/rh": Write it as a section, [sensor.reads.humidity].',
        id="a quantity that is a text",
    ),
    pytest.param(
        SENSOR + '[sensor.reads.humidty]\nat = "/rh"\n',
        'sensor[1] "air".reads.humidty: Write one of temperature, humidity, co2, pressure, '
        "battery. Did you mean humidity?",
        id="a quantity misspelt",
    ),
    pytest.param(
        SENSOR + '[sensor.reads.humidity]\natt = "/rh"\n',
        f'sensor[1] "air".reads.humidity.att = "/rh": {NO_KEY} Did you mean at?',
        id="a pointer's key misspelt",
    ),
    pytest.param(
        SENSOR + '[sensor.reads.humidity]\nat = "rh"\n',
        'sensor[1] "air": humidity: "rh" is no pointer (RFC 6901); write /humidity.',
        id="no pointer",
    ),
    pytest.param(
        SENSOR + '[sensor.reads.humidity]\nat = "{rh}\\n~2"\n',
        'sensor[1] "air": humidity: "{rh} ~2" is no pointer (RFC 6901); write /humidity.',
        id="braces and a line break in a pointer",
    ),
    pytest.param(
        SENSOR + JSON + 'unit = "°C"\n',
        'sensor[1] "air": humidity can\'t be in "°C"; write one of %, %RH, /, fraction.',
        id="a unit of something else",
    ),
    pytest.param(
        SENSOR + 'payload = "number"\n' + JSON + '[sensor.reads.co2]\nat = "/c"\n',
        'sensor[1] "air": A number is one quantity: read one, or use a topic for each.',
        id="two quantities in a number",
    ),
    pytest.param(
        SENSOR + 'payload = "senml"\n[sensor.reads.humidity]\n',
        'sensor[1] "air": humidity: name its SenML record in `at`.',
        id="senml without a record",
    ),
    pytest.param(
        SENSOR + 'payload = "number"\n' + JSON + '[sensor.time]\nat = "/t"\n',
        'sensor[1] "air": Only json takes a time of its own here; senml brings its own.',
        id="a time for a number",
    ),
    pytest.param(
        SENSOR + JSON + '[sensor.time]\nat = "t"\n',
        'sensor[1] "air": time.at "t" is no pointer (RFC 6901); write it like /time.',
        id="a time that is no pointer",
    ),
    pytest.param(
        SENSOR + JSON + "[sensor.time]\n",
        'sensor[1] "air".time.at: Add it; it is needed.',
        id="a time without a place",
    ),
]


def _written(folder: Path, text: str) -> Path:
    path = folder / "house.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _lines(path: Path, environment: dict[str, str] | None = None) -> list[str]:
    return [str(fault).removeprefix(f"{path}: ") for fault in check(path, environment or {})]


@pytest.mark.parametrize(("text", "line"), ONE_FAULT)
def test_one_fault_is_one_line_with_its_cure(tmp_path: Path, text: str, line: str) -> None:
    assert _lines(_written(tmp_path, text)) == [line]


def test_a_fault_names_file_key_value_and_cure(tmp_path: Path) -> None:
    path = _written(tmp_path, "[mqtt]\nport = 70000\n")
    (fault,) = check(path, {})
    assert (fault.file, fault.key, fault.value) == (str(path), "mqtt.port", "70000")
    assert str(fault) == f"{path}: mqtt.port = 70000: Give 65535 or less."


ALL_AT_ONCE = """
[site]
timezone = "Mars"
[mqtt]
port = 0
ca_file = "ca.crt"
password = "hunter2"
[[notify]]
name = "me"
[[notify]]
name = "me"
to = "json://h"
[[chamber]]
name = "tent"
stage = "spawning"
shelves = ["top", "top", 5]
surrounding = "rom"
[[chamber]]
name = "room"
colour = "red"
[[sensor]]
chamber = "tent"
topic = "t"
[sensor.reads.humidity]
at = "rh"
[[sensor]]
name = "two"
chamber = "tint"
topic = "#t"
unheard_after = "soon"
payload = "number"
[sensor.reads.humidity]
[sensor.reads.co2]
[[sensor]]
name = "two"
chamber = "tent"
place = "tip"
unheard = "5 min"
reads = { temprature = { att = "/t" } }
"""


ALL_THAT_IS_SAID = """
mqtt.password: A password does not belong in this file; set CHAMBERWATCH_MQTT_PASSWORD or a \
systemd credential named mqtt_password.
site.timezone = "Mars": Write a zone such as Europe/Lisbon.
mqtt.port = 0: Give 1 or more.
notify[1] "me".to: Add it; it is needed.
chamber[1] "tent".shelves[3] = 5: Write a text in quotation marks.
chamber[1] "tent".stage = "spawning": Write one of colonisation, fruiting.
chamber[2] "room".colour = "red": There is no such key; take it out.
sensor[1].name: Add it; it is needed.
sensor[2] "two".topic = "#t": A + stands for one whole level and a # only for the end, as in \
tent/+/climate.
sensor[2] "two".unheard_after = "soon": Write a number and a unit, such as 30 s, 5 min or 2 h.
sensor[3] "two".topic: Add it; it is needed.
sensor[3] "two".reads.temprature: Write one of temperature, humidity, co2, pressure, battery. \
Did you mean temperature?
sensor[3] "two".reads.temprature.att = "/t": There is no such key; take it out. Did you mean at?
sensor[3] "two".unheard = "5 min": There is no such key; take it out. Did you mean unheard_after?
chamber[1] "tent": Two shelves have the same name; give each its own.
sensor[1]: humidity: "rh" is no pointer (RFC 6901); write /humidity.
sensor[2] "two": A number is one quantity: read one, or use a topic for each.
sensor.name = "two": Two have this name; give each its own.
notify.name = "me": Two have this name; give each its own.
chamber[1] "tent".surrounding = "rom": There is no such chamber. Did you mean room?
sensor[2] "two".chamber = "tint": There is no such chamber. Did you mean tent?
sensor[3] "two".place = "tip": There is no such place in that chamber. Did you mean top?
mqtt.ca_file = "ca.crt": Set tls = true, or take it out.
"""


def test_no_fault_hides_another(tmp_path: Path) -> None:
    lines = _lines(_written(tmp_path, ALL_AT_ONCE))
    assert lines == ALL_THAT_IS_SAID.strip().splitlines()


def test_entries_keep_their_number_when_one_before_them_is_no_entry(tmp_path: Path) -> None:
    text = (
        'chamber = [5, { name = "tent" }, { name = "tub", shelves = ["a", "a"] }]\n'
        'sensor = ["x", { name = "s", chamber = "tent", topic = "t", place = "tip",'
        ' reads = { co2 = { at = "c" } } }]\nnotify = [1]\n'
    )
    assert [line.split(":")[0] for line in _lines(_written(tmp_path, text))] == [
        "notify[1]",
        "chamber[1] = 5",
        'chamber[3] "tub"',
        'sensor[1] = "x"',
        'sensor[2] "s"',
        'sensor[2] "s".place = "tip"',
    ]


@pytest.mark.parametrize(
    ("chambers", "expected"),
    [
        pytest.param("[[chamber]]\nname = 5\n", ["chamber[1].name = 5"], id="unreadable name"),
        pytest.param("[[chamber]]\n", ["chamber[1].name"], id="no name"),
        pytest.param(
            '[[chamber]]\n[[chamber]]\nname = "tub"\nsurrounding = "cellar"\n',
            ["chamber[1].name"],
            id="the room may be the nameless one",
        ),
        pytest.param(
            '[[chamber]]\nname = "Tent"\n',
            ['chamber[1] "Tent".name = "Tent"', 'sensor[1] "air".chamber = "tent"'],
            id="a name with a capital",
        ),
    ],
)
def test_a_chamber_is_not_missed_when_its_name_could_not_be_read(
    tmp_path: Path, chambers: str, expected: list[str]
) -> None:
    lines = _lines(_written(tmp_path, chambers + HEARD + JSON))
    assert [line.split(":")[0] for line in lines] == expected


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        pytest.param(
            SENSOR + 'payload = "nmber"\n[sensor.reads.humidity]\n',
            ['sensor[1] "air".payload'],
            id="a payload misspelt needs no pointer",
        ),
        pytest.param(
            SENSOR + 'payloud = "number"\n[sensor.reads.humidity]\n',
            ['sensor[1] "air".payloud'],
            id="its key misspelt neither",
        ),
        pytest.param(
            SENSOR + "[sensor.reads.humidity]\nat = 5\n",
            ['sensor[1] "air".reads.humidity.at'],
            id="a pointer that is a number",
        ),
        pytest.param(
            TENT.replace('["top"]', "[5]"), ['chamber[1] "tent".shelves[1]'], id="a shelf"
        ),
        pytest.param(
            "[mqtt]\ntls = 5\nca_file = 'ca.crt'\n", ["mqtt.tls"], id="tls that can't be read"
        ),
        pytest.param("[mqtt]\nca_file = 5\n", ["mqtt.ca_file"], id="a file that is no text"),
        pytest.param(
            '[[chamber]]\nname = "tent"\nshelves = 5\n' + HEARD + JSON,
            ['chamber[1] "tent".shelves'],
            id="shelves that can't be read",
        ),
    ],
)
def test_what_only_follows_from_a_fault_is_not_said(
    tmp_path: Path, text: str, keys: list[str]
) -> None:
    assert [fault.key for fault in check(_written(tmp_path, text), {})] == keys


def test_load_raises_all_of_them(tmp_path: Path) -> None:
    path = _written(tmp_path, "[mqtt]\nport = 0\n[web]\nport = -1\n")
    with pytest.raises(SettingsError) as caught:
        load(path, {})
    assert caught.value.faults == check(path, {})
    assert str(caught.value).splitlines() == [
        f"{path}: mqtt.port = 0: Give 1 or more.",
        f"{path}: web.port = -1: Give 0 or more.",
    ]


def test_what_could_not_be_salvaged_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chamberwatch.settings.salvage.ROUNDS_AT_MOST", 1)
    settings, found = validated({"site": 5})
    assert settings is None
    assert [fault.where for fault in found] == [("site",)]
