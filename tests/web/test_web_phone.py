"""The way onto the phone: the code, the words beside it, the shortcut and its icons."""

import io
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import segno
from fastapi.testclient import TestClient
from PIL import Image, ImageChops

from chamberwatch.core.errors import Fault, RefusedError, SettingsError
from chamberwatch.web.app import create_app
from chamberwatch.web.pages.phone import EVERYWHERE
from chamberwatch.web.qr import QUIET, code_of
from chamberwatch.web.rendering import STATIC
from chamberwatch.web.tells import SettingsStand
from chamberwatch.web.whence import Reach, own_number
from tests.web.desk_fakes import dry_tent
from tests.web.editing_fakes import FakeEditing
from tests.web.guarded_fakes import guarded

PHONE = "/set-up/phone"
NUMBER = "192.0.2.4"
NEAR = Reach(True, 8642, "tent-pi", lambda: (NUMBER,))
FAR = Reach(False, 8642, "Tent-Pi.house", lambda: (NUMBER, "2001:db8::4"))


def drawn(path: str, side: int) -> list[list[int]]:
    """Return the modules that a path covers, row by row."""
    rows = [[0] * side for _ in range(side)]
    parts = re.findall(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z", path)
    assert "".join(f"M{x} {y}h{w}v1h-{back}z" for x, y, w, back in parts) == path
    for x, y, width, back in parts:
        assert width == back
        for at in range(int(x), int(x) + int(width)):
            rows[int(y)][at] = 1
    return rows


@pytest.mark.parametrize(
    "address", ["http://192.0.2.4:8642", "https://tent.example/" + "a" * 200, "http://[::1]:8642"]
)
def test_the_path_is_the_code(address: str) -> None:
    code = code_of(address)
    matrix = segno.make(address, error="m", micro=False, boost_error=False).matrix
    rows = drawn(code.path, code.side)
    inside = [row[QUIET:-QUIET] for row in rows[QUIET:-QUIET]]
    assert inside == [[int(dark) for dark in row] for row in matrix]
    # The quiet zone is empty: ISO/IEC 18004 asks for four modules on each side.
    assert sum(map(sum, rows)) == sum(map(sum, inside))
    assert code.side == len(matrix) + 8


def page_of(address: str | None, reach: Reach | None) -> str:
    desk = replace(dry_tent(address).desk, reach=reach)
    return TestClient(create_app(desk), base_url="http://localhost").get(PHONE).text


@pytest.mark.parametrize(
    ("address", "reach", "addresses", "words"),
    [
        pytest.param(None, NEAR, [], "For now only this machine can open the page.", id="near"),
        pytest.param(None, None, [], "For now only this machine can open the page.", id="unknown"),
        pytest.param("http://localhost:8642", NEAR, [], "For now only this machine", id="own"),
        pytest.param(
            None,
            FAR,
            ["http://192.0.2.4:8642", "http://[2001:db8::4]:8642", "http://tent-pi.local:8642"],
            "must be in the same home network",
            id="far",
        ),
        pytest.param(
            "http://tent.example",
            NEAR,
            ["http://tent.example"],
            "Without TLS this is a shortcut",
            id="stated",
        ),
        pytest.param(
            "https://tent.example",
            NEAR,
            ["https://tent.example"],
            "Over TLS, as here, some browsers offer to install it",
            id="over-tls",
        ),
    ],
)
def test_what_it_says(
    address: str | None, reach: Reach | None, addresses: list[str], words: str
) -> None:
    page = page_of(address, reach)
    assert re.findall(r'<figcaption><a href="([^"]+)"', page) == addresses
    for each in addresses:
        assert code_of(each).path in page
        assert f'aria-label="QR code of {each}"' in page
    assert words in page
    assert ("Write into the settings" in page) == (not addresses)


@pytest.mark.parametrize(
    ("address", "reach", "stands"),
    [
        pytest.param(None, NEAR, "only this machine opens it", id="near"),
        pytest.param("http://127.0.0.1:8642", NEAR, "only this machine opens it", id="own"),
        pytest.param(None, FAR, "http://192.0.2.4:8642", id="far"),
        pytest.param("http://tent.example", NEAR, "http://tent.example", id="stated"),
    ],
)
def test_the_contents_say_how_a_phone_comes_in(
    address: str | None, reach: Reach, stands: str
) -> None:
    desk = replace(dry_tent(address).desk, reach=reach)
    page = TestClient(create_app(desk), base_url="http://localhost").get("/set-up").text
    (line,) = re.findall(r'<a href="/set-up/phone">.*?<span class="stands">([^<]*)<', page)
    assert line == stands


def test_the_passcode_comes_first(tmp_path: Path) -> None:
    assert 'href="/passcode">Set a passcode</a>' in page_of(None, NEAR)
    assert "No passcode is set" in page_of(None, FAR)
    with guarded(tmp_path) as house:
        house.app.state.desk = replace(house.played.desk, reach=FAR)
        page = house.visitor(cookie=house.cookie()).get(PHONE).text
        assert "No passcode is set" not in page
        house.app.state.desk = replace(house.played.desk, reach=NEAR)
        page = house.visitor(cookie=house.cookie()).get(PHONE).text
        assert "That is done." in page


NO_HOST: dict[str, Any] = {"web": {"port": 8642}}


def test_the_network_is_let_in_from_the_next_start_on(tmp_path: Path) -> None:
    with guarded(tmp_path) as house:
        editing = FakeEditing(NO_HOST)
        house.app.state.desk = replace(house.played.desk, reach=NEAR, editing=editing)
        grower = house.visitor(cookie=house.cookie())
        assert 'action="/set-up/phone/let-in"' in grower.get(PHONE).text
        assert grower.post(f"{PHONE}/let-in").status_code == 303
        assert editing.now == {"web": {"port": 8642, "host": EVERYWHERE}}
        editing.stands = SettingsStand(waits=("web.host",))
        page = grower.get(PHONE).text
        assert "That is written." in page
        assert 'action="/set-up/phone/let-in"' not in page


def test_nobody_is_let_in_before_there_is_a_passcode() -> None:
    editing = FakeEditing(NO_HOST)
    desk = replace(dry_tent(None).desk, reach=NEAR, editing=editing)
    visitor = TestClient(create_app(desk), base_url="http://localhost")
    page = visitor.get(PHONE).text
    assert 'href="/passcode"' in page
    assert "let-in" not in page
    fault = Fault("cw.toml", "web.host", '"0.0.0.0"', "Set a passcode first.")
    editing.refuse = SettingsError((fault,))
    answer = visitor.post(f"{PHONE}/let-in")
    assert answer.status_code == 422
    assert '<p class="said" role="alert">Set a passcode first.</p>' in answer.text


@pytest.mark.parametrize(
    ("address", "status", "kept"),
    [
        pytest.param("http://tent-pi.local:8642", 303, "http://tent-pi.local:8642", id="shown"),
        pytest.param("http://elsewhere.example", 422, None, id="not of this machine"),
    ],
)
def test_an_address_that_works_is_used_in_messages(
    address: str, status: int, kept: str | None
) -> None:
    editing = FakeEditing(NO_HOST)
    desk = replace(dry_tent(None).desk, reach=FAR, editing=editing)
    visitor = TestClient(create_app(desk), base_url="http://localhost", follow_redirects=False)
    assert "It works: use it in messages" in visitor.get(PHONE).text
    answer = visitor.post(f"{PHONE}/in-messages", data={"address": address})
    assert answer.status_code == status
    assert editing.now["web"].get("address") == kept


def test_what_cannot_be_written_is_said_beside_the_code() -> None:
    editing = FakeEditing(NO_HOST, refuse=RefusedError("The folder can't be written."))
    desk = replace(dry_tent(None).desk, reach=FAR, editing=editing)
    visitor = TestClient(create_app(desk), base_url="http://localhost")
    answer = visitor.post(f"{PHONE}/in-messages", data={"address": "http://192.0.2.4:8642"})
    assert answer.status_code == 422
    assert "The folder can&#39;t be written." in answer.text


def test_this_machine_knows_a_number_of_its_own_or_none() -> None:
    for number in own_number():
        assert re.fullmatch(r"\d+\.\d+\.\d+\.\d+", number)
        assert not number.startswith("127.")


# ------------------------------------------------------------------ the shortcut


def test_the_manifest_is_open_to_all_and_leads_to_what_is_there(tmp_path: Path) -> None:
    with guarded(tmp_path) as house:
        stranger = house.visitor()
        answer = stranger.get("/manifest.webmanifest")
        assert answer.headers["content-type"] == "application/manifest+json"
        described = answer.json()
        assert (described["start_url"], described["scope"]) == ("/", "/")
        assert {icon["purpose"] for icon in described["icons"]} == {"any", "maskable"}
        for icon in described["icons"]:
            picture = Image.open(io.BytesIO(stranger.get(icon["src"]).content))
            assert "x".join(map(str, picture.size)) == icon["sizes"]
        page = stranger.get("/enter").text
        assert '<link rel="manifest" href="/manifest.webmanifest">' in page
        assert "manifest-src 'self'" in answer.headers["content-security-policy"]


def test_the_colours_are_those_of_the_page() -> None:
    css = (STATIC / "site.css").read_text()
    grounds = re.findall(r"--ground: (#[0-9a-f]{6})", css)
    page = page_of(None, NEAR)
    assert re.findall(r'<meta name="theme-color" media="[^"]+" content="(#\w+)"', page) == grounds
    client = TestClient(create_app(dry_tent().desk), base_url="http://localhost")
    assert client.get("/manifest.webmanifest").json()["theme_color"] == grounds[0]


@pytest.mark.parametrize("size", [180, 192, 512])
def test_icons_are_made_from_our_drawing(size: int) -> None:
    resvg_py = pytest.importorskip("resvg_py")
    drawing = (STATIC / "icon.svg").read_text()
    made = bytes(resvg_py.svg_to_bytes(svg_string=drawing, width=size, height=size))
    kept = Image.open(STATIC / f"icon-{size}.png").convert("RGB")
    assert kept.size == (size, size)
    apart = ImageChops.difference(kept, Image.open(io.BytesIO(made)).convert("RGB"))
    assert max(apart.convert("L").tobytes()) <= 8


def test_the_icon_may_be_cut_round() -> None:
    """The drawing keeps to a circle of four fifths of the width (Web Application Manifest)."""
    icon = Image.open(STATIC / "icon-512.png").convert("RGB")
    ground = icon.getpixel((0, 0))
    drawn_at = [
        ((x - 255.5) ** 2 + (y - 255.5) ** 2) ** 0.5
        for x in range(0, 512, 4)
        for y in range(0, 512, 4)
        if icon.getpixel((x, y)) != ground
    ]
    assert 0.4 * 512 * 0.6 < max(drawn_at) <= 0.4 * 512
