"""The file itself, secrets from elsewhere, and where the database lies."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from chamberwatch.core.errors import SettingsError
from chamberwatch.settings import Settings, check, load

SECRET = "hunter2-of-the-grower"  # noqa: S105 - invented, and it must never be seen
AT = "postgresql+psycopg://"
ON_SERVER = f'[database]\nurl = "{AT}u@h/d"\n'
PASSWORD = "CHAMBERWATCH_MQTT_PASSWORD"  # noqa: S105 - the name of a variable
USER = '[mqtt]\nusername = "grower"\n'


def _written(folder: Path, text: str) -> Path:
    path = folder / "house.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _only(path: Path) -> str:
    (fault,) = check(path, {})
    assert fault.file == str(path)
    assert not fault.key
    return fault.cure


def _password(settings: Settings) -> str | None:
    password = settings.mqtt.password
    return password.get_secret_value() if password else None


# ------------------------------------------------------------------ the file


def test_an_empty_file_is_all_defaults(tmp_path: Path) -> None:
    settings = load(_written(tmp_path, ""), {})
    assert settings.web.port == 8642
    assert (settings.chamber, settings.sensor, settings.notify) == ((), (), ())
    assert settings.house().pressure_pa == pytest.approx(101_325.0)


@pytest.mark.parametrize(
    ("text", "cure"),
    [
        pytest.param(
            '[site]\ntimezone = "UTC"\naltitude_m = \n',
            "Invalid value (at line 3, column 14). Mend that line; the rest comes after.",
            id="no value",
        ),
        pytest.param(
            "[mqtt]\nport = 1\nport = 2\n",
            "Cannot overwrite a value (at line 3, column 9). "
            "Mend that line; the rest comes after.",
            id="a key twice",
        ),
        pytest.param(
            "x = " + "[" * 5000,
            "It holds lists or numbers far too long to be settings; take them out.",
            id="lists in lists in lists",
        ),
        pytest.param(
            "x = " + "9" * 5000,
            "It holds lists or numbers far too long to be settings; take them out.",
            id="a number of 5000 digits",
        ),
    ],
)
def test_a_file_that_is_not_toml(tmp_path: Path, text: str, cure: str) -> None:
    assert _only(_written(tmp_path, text)) == cure


def test_a_missing_file(tmp_path: Path) -> None:
    assert _only(tmp_path / "no.toml") == (
        "There is no such file. Before the first start there is none: chamberwatch run makes it. "
        "If it lies elsewhere, give it with --config."
    )


def test_a_folder_for_a_file(tmp_path: Path) -> None:
    assert (
        _only(tmp_path)
        == "It can't be read (Is a directory); look at what it is and at its rights."
    )


def test_a_file_that_is_closed_to_us(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def closed(_: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    path = _written(tmp_path, "")
    monkeypatch.setattr(Path, "read_bytes", closed)  # root may read everything
    assert _only(path) == (
        "This account may not read it. Run the command as the one that runs chamberwatch: where "
        "it was installed as a service, with sudo in front."
    )


def test_a_file_in_another_encoding(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_bytes("# 12 °C".encode("latin-1"))
    assert _only(path) == "It is not UTF-8 text; save it as UTF-8."


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_bytes(b"\xef\xbb\xbf[site]\r\naltitude_m = 7\r\n")
    assert load(path, {}).site.altitude_m == 7.0


# ------------------------------------------------------------------ secrets


def test_a_password_in_the_file_is_refused_and_not_shown(tmp_path: Path) -> None:
    path = _written(tmp_path, f'{USER}password = "{SECRET}"\n')
    with pytest.raises(SettingsError) as caught:
        load(path, {})
    assert str(caught.value) == (
        f"{path}: mqtt.password: A password does not belong in this file; set {PASSWORD} or a "
        "systemd credential named mqtt_password."
    )


def _credential(folder: Path, content: bytes) -> dict[str, str]:
    (folder / "mqtt_password").write_bytes(content)
    return {"CREDENTIALS_DIRECTORY": str(folder)}


def test_a_password_from_the_environment(tmp_path: Path) -> None:
    path = _written(tmp_path, USER)
    assert _password(load(path, {PASSWORD: SECRET})) == SECRET
    assert _password(load(path, {PASSWORD: ""})) is None


def test_a_password_from_a_credential(tmp_path: Path) -> None:
    path = _written(tmp_path, USER)
    given = _credential(tmp_path, f"{SECRET}\n".encode())
    assert _password(load(path, given)) == SECRET
    assert _password(load(path, {**given, PASSWORD: "other"})) == "other"


def test_no_credential_is_no_password(tmp_path: Path) -> None:
    given = {"CREDENTIALS_DIRECTORY": str(tmp_path)}
    assert _password(load(_written(tmp_path, USER), given)) is None


@pytest.mark.parametrize(
    ("make", "why"),
    [
        pytest.param(lambda file: file.mkdir(), "Is a directory", id="a folder"),
        pytest.param(
            lambda file: file.write_bytes(b"\xff\xfe"), "it is not UTF-8 text", id="bytes"
        ),
    ],
)
def test_a_credential_that_cannot_be_read(
    tmp_path: Path, make: Callable[[Path], object], why: str
) -> None:
    make(tmp_path / "mqtt_password")
    path = _written(tmp_path, USER)
    (fault,) = check(path, {"CREDENTIALS_DIRECTORY": str(tmp_path)})
    assert fault.key == "mqtt_password"
    assert fault.cure == f"The credential can't be read ({why}); look at it and at its rights."


@pytest.mark.parametrize("text", ["", "[mqtt]\nport = 1883\n"])
def test_a_password_needs_a_username(tmp_path: Path, text: str) -> None:
    (fault,) = check(_written(tmp_path, text), {PASSWORD: SECRET})
    assert str(fault).endswith("mqtt.username: A password needs a username; add it.")


def test_an_address_from_the_environment(tmp_path: Path) -> None:
    settings = load(_written(tmp_path, ""), {"CHAMBERWATCH_NOTIFY": "json://h"})
    (told,) = settings.notify
    assert (told.name, told.to.get_secret_value()) == ("env", "json://h")


def test_a_sign_of_life_from_the_environment(tmp_path: Path) -> None:
    given = {"CHAMBERWATCH_SIGN_OF_LIFE": f"https://watch.example/{SECRET}"}
    assert load(_written(tmp_path, ""), {}).sign_of_life is None
    alone = load(_written(tmp_path, ""), given).sign_of_life
    seldom = load(_written(tmp_path, '[sign_of_life]\nevery = "1 h"\n'), given).sign_of_life
    assert alone is not None
    assert seldom is not None
    assert alone.url.get_secret_value() == f"https://watch.example/{SECRET}"
    assert (alone.every, seldom.every) == (timedelta(minutes=5), timedelta(hours=1))
    assert SECRET not in repr(alone)


def test_addresses_without_a_name_get_one_that_is_free(tmp_path: Path) -> None:
    text = "".join(
        f'[[notify]]\n{name}to = "json://h"\n'
        for name in ("", 'name = "phone-2"\n', "", 'name = "env"\n', "")
    )
    settings = load(_written(tmp_path, text), {"CHAMBERWATCH_NOTIFY": "json://e"})
    assert [told.name for told in settings.notify] == [
        "phone", "phone-2", "phone-3", "env", "phone-4", "env-2",
    ]  # fmt: skip


def test_secrets_are_in_no_text_of_the_settings(tmp_path: Path) -> None:
    path = _written(tmp_path, f'{USER}{ON_SERVER}[[notify]]\nto = "json://u:{SECRET}@h"\n')
    given = {
        PASSWORD: SECRET,
        "CHAMBERWATCH_NOTIFY": f"json://{SECRET}",
        "CHAMBERWATCH_DATABASE_PASSWORD": SECRET,
    }
    settings = load(path, given)
    assert _password(settings) == SECRET
    assert len(settings.notify) == 2
    texts = (repr(settings), str(settings), settings.model_dump_json(), repr(settings.mqtt))
    for text in (*texts, repr(settings.database), settings.database.url):
        assert SECRET not in text
    assert SECRET in settings.database.address


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(f'[sign_of_life]\nurl = "{SECRET}"\n', id="an address that is none"),
        pytest.param(f'[sign_of_life]\naddress = "{SECRET}"\n', id="its key misspelt"),
        pytest.param(f'sign_of_life = "{SECRET}"\n', id="an address for a section"),
        pytest.param(f'[[notify]]\nadress = "{SECRET}"\n', id="a key misspelt"),
        pytest.param(f'[[notify]]\nto = ["{SECRET}"]\n', id="a list"),
        pytest.param(f'[[notify]]\nto = {{ a = "{SECRET}" }}\n', id="a table"),
        pytest.param(f'notify = ["{SECRET}"]\n', id="a list of texts"),
        pytest.param(f'notify = "{SECRET}"\n', id="a text"),
        pytest.param(f'[notify]\nto = "{SECRET}"\n', id="one bracket too few"),
        pytest.param(f'[mqtt]\npass = "{SECRET}"\n', id="another word for it"),
        pytest.param(f'[mqtt]\npassword = ["{SECRET}"]\n', id="a list for a password"),
        pytest.param(f'mqtt = "u:{SECRET}@h"\n', id="mqtt as a text"),
        pytest.param(f'mqtt_password = "{SECRET}"\n', id="outside every section"),
        pytest.param(f'[mqtt]\nport = 0\npassword = "{SECRET}"\n', id="beside another fault"),
        pytest.param(f'[[notify]]\nto = "{SECRET}\n', id="not TOML"),
        pytest.param(f'[database]\npassword = "{SECRET}"\n', id="the database's"),
        pytest.param(f'[database]\npass = "{SECRET}"\n', id="the database's, misspelt"),
        pytest.param(f'[database]\nurl = "{AT}u:{SECRET}@h/d"\n', id="in the address"),
        pytest.param(f'[database]\nurl = "{AT}u:{SECRET}@h"\n', id="in one without a database"),
        pytest.param(f'[database]\nurl = "{AT}u:a@{SECRET}@h/d"\n', id="with a sign in it"),
        pytest.param(f'[database]\nurl = "{AT}u@h/d?password={SECRET}"\n', id="asked for"),
        pytest.param(f'[database]\nurl = "postgres://u:{SECRET}@h/d"\n', id="in another scheme"),
        pytest.param(f'[database]\nurl = ["{AT}u:{SECRET}@h/d"]\n', id="in a list"),
        pytest.param(f'database = "{AT}u:{SECRET}@h/d"\n', id="in place of the section"),
    ],
)
def test_a_fault_never_shows_what_may_be_a_secret(tmp_path: Path, text: str) -> None:
    faults = check(_written(tmp_path, text), {PASSWORD: SECRET, "CHAMBERWATCH_NOTIFY": SECRET})
    assert faults
    assert SECRET not in repr(faults)


@pytest.mark.parametrize(
    "url",
    [
        pytest.param("u:{}@h/d", id="between role and server"),
        pytest.param("u@h/d?connect_timeout=9&password={}", id="asked for"),
    ],
)
def test_a_database_password_in_the_file_is_the_only_fault(tmp_path: Path, url: str) -> None:
    text = f'[database]\nurl = "{AT}{url.format(SECRET)}"\n'
    (fault,) = check(_written(tmp_path, text), {})
    assert fault.key == "database.url"
    assert fault.cure.startswith("A password does not belong in this file; take it out, and set ")


# ------------------------------------------------------------------ places


@pytest.mark.parametrize(
    ("url", "file"),
    [
        pytest.param("sqlite:///chamberwatch.db", "{here}/chamberwatch.db", id="beside it"),
        pytest.param("sqlite:///kept/all.db", "{here}/kept/all.db", id="in a folder"),
        pytest.param("sqlite:////var/kept/all.db", "/var/kept/all.db", id="absolute"),
    ],
)
def test_a_relative_database_lies_beside_the_file(tmp_path: Path, url: str, file: str) -> None:
    settings = load(_written(tmp_path, f'[database]\nurl = "{url}"\n'), {})
    path = file.format(here=tmp_path.resolve().as_posix())
    assert settings.database.url == settings.database.address == f"sqlite:///{path}"
    assert settings.database.folder == Path(path).parent
    assert settings.database.nearby == Path(path)


@pytest.mark.parametrize(
    ("more", "folder"),
    [
        pytest.param("", "{here}", id="beside the file"),
        pytest.param('files = "kept"\n', "{here}/kept", id="below it"),
        pytest.param('files = "/mnt/stick"\n', "/mnt/stick", id="elsewhere"),
    ],
)
def test_the_files_of_a_server_lie_beside_the_settings(
    tmp_path: Path, more: str, folder: str
) -> None:
    database = load(_written(tmp_path, ON_SERVER + more), {}).database
    assert database.folder == Path(folder.format(here=tmp_path.resolve().as_posix()))
    assert database.nearby.parent == database.folder


@pytest.mark.parametrize(
    ("url", "given", "address"),
    [
        pytest.param(f"{AT}u@h/d", None, f"{AT}u@h/d", id="no password"),
        pytest.param(f"{AT}u@h:5/d", "a/b@c:d%", f"{AT}u:a%2Fb%40c%3Ad%25@h:5/d", id="odd signs"),
        pytest.param(f"{AT}h/d", "x", f"{AT}:x@h/d", id="no role"),
        pytest.param(f"{AT}/d?host=/run/pg", None, f"{AT}/d?host=/run/pg", id="a socket"),
        pytest.param("sqlite:////a.db", "x", "sqlite:////a.db", id="a file"),
    ],
)
def test_the_address_has_the_password(
    tmp_path: Path, url: str, given: str | None, address: str
) -> None:
    environment = {} if given is None else {"CHAMBERWATCH_DATABASE_PASSWORD": given}
    database = load(_written(tmp_path, f'[database]\nurl = "{url}"\n'), environment).database
    assert database.address == address


def test_a_database_password_from_a_credential(tmp_path: Path) -> None:
    (tmp_path / "database_password").write_text("x\n")
    database = load(
        _written(tmp_path, ON_SERVER), {"CREDENTIALS_DIRECTORY": str(tmp_path)}
    ).database
    assert database.address == f"{AT}u:x@h/d"


@pytest.mark.parametrize("url", [f"{AT}u@h", f"{AT}u@h/", f"{AT}u@h:no/d", f"{AT}u@[h/d"])
def test_an_address_of_a_server_that_is_not_whole(tmp_path: Path, url: str) -> None:
    (fault,) = check(_written(tmp_path, f'[database]\nurl = "{url}"\n'), {})
    assert "postgresql+psycopg://chamberwatch@server.home/chamberwatch" in fault.cure


def test_the_folder_one_stands_in_does_not_matter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _written(tmp_path, "")
    monkeypatch.chdir(tmp_path)
    assert load(Path("house.toml"), {}) == load(path, {})


@pytest.mark.parametrize(
    ("address", "kept"),
    [
        pytest.param("http://tent.local:8642/", "http://tent.local:8642", id="a slash at the end"),
        pytest.param("https://h.example/tent", "https://h.example/tent", id="with a path"),
    ],
)
def test_the_address_of_links(tmp_path: Path, address: str, kept: str) -> None:
    text = f'[web]\naddress = "{address}"\nhost = "::1"\n'
    assert load(_written(tmp_path, text), {}).web.address == kept


@pytest.mark.parametrize(
    ("host", "near", "from_here"),
    [
        pytest.param("127.0.0.1", True, "127.0.0.1", id="four"),
        pytest.param("::1", True, "::1", id="six"),
        pytest.param("localhost", True, "localhost", id="name"),
        pytest.param("0.0.0.0", False, "localhost", id="every"),  # noqa: S104 - nothing is bound
        pytest.param("::", False, "localhost", id="every-of-six"),
        pytest.param("192.168.1.20", False, "192.168.1.20", id="one-of-the-network"),
    ],
)
def test_who_a_host_lets_in(tmp_path: Path, host: str, near: bool, from_here: str) -> None:
    web = load(_written(tmp_path, f'[web]\nhost = "{host}"\n'), {}).web
    assert (web.host, web.near, web.from_here) == (host, near, from_here)


def test_localhost_is_this_machine(tmp_path: Path) -> None:
    assert load(_written(tmp_path, '[web]\nhost = "localhost"\n'), {}).web.host == "localhost"
