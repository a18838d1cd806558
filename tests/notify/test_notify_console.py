import io
import threading

import pytest

from chamberwatch.notify.console import WIDTH, Console
from chamberwatch.service.ports import Outcome
from tests.fakes import PlainLinks

LINK = "Misted: http://tent.local:8642/do/" + "abc-123_" * 20


class GoneStream(io.StringIO):
    """A terminal whose other end has hung up."""

    def write(self, text: str, /) -> int:
        raise BrokenPipeError(32, "Broken pipe")


def _printed(title: str, body: str) -> str:
    stream = io.StringIO()
    assert Console(stream, None).send(title, body) == Outcome(ok=True)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("body", "printed"),
    [
        pytest.param("", "* Tent: mist now\n\n", id="a title alone"),
        pytest.param("Two squeezes.", "* Tent: mist now\n  Two squeezes.\n\n", id="one line"),
        pytest.param(
            "Two squeezes.\n\nThen look.",
            "* Tent: mist now\n  Two squeezes.\n\n  Then look.\n\n",
            id="an empty line stays",
        ),
        pytest.param(
            "word " * 20,
            f"* Tent: mist now\n  {'word ' * 14}word\n  word word word word word\n\n",
            id="a long line is wrapped and indented",
        ),
    ],
)
def test_layout(body: str, printed: str) -> None:
    assert _printed("Tent: mist now", body) == printed


def test_no_line_is_wider_than_the_terminal() -> None:
    body = "Humidity 76 % and falling, band 80-95 %. " * 9
    assert max(map(len, _printed("Tent", body).splitlines())) <= WIDTH


def test_a_link_is_never_broken() -> None:
    printed = _printed("Tent", f"Two squeezes.\n{LINK}\nSeen: http://t/2")
    assert f"\n  {LINK}\n  Seen: http://t/2\n" in printed


def test_nothing_is_done_to_the_terminal() -> None:
    printed = _printed("Te\x1b]0;nt\a", "Mist\x1b[2J\x9b1A\N{RIGHT-TO-LEFT OVERRIDE}now.")
    assert printed == "* Te ]0;nt \n  Mist [2J 1Anow.\n\n"


def test_a_stream_that_is_closed_is_an_outcome() -> None:
    stream = io.StringIO()
    stream.close()
    outcome = Console(stream, None).send("Tent", "Mist.")
    assert not outcome.ok
    assert outcome.reason.startswith("the terminal can't be written: ")


def test_a_reader_who_has_gone_is_an_outcome() -> None:
    assert Console(GoneStream(), None).send("Tent", "Mist.") == Outcome(
        ok=False, reason="the terminal can't be written: [Errno 32] Broken pipe"
    )


def test_messages_of_several_threads_do_not_mix() -> None:
    stream = io.StringIO()
    console = Console(stream, None)
    together = threading.Barrier(4)

    def speak(name: str) -> None:
        together.wait(10)
        for _ in range(50):
            console.send(name, f"{name} one\n{name} two")

    threads = [threading.Thread(target=speak, args=(name,)) for name in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    said = stream.getvalue().split("\n\n")
    assert sorted(said) == [
        "",
        *(f"* {n}\n  {n} one\n  {n} two" for n in "abcd" for _ in range(50)),
    ]


def test_name_and_links_are_kept() -> None:
    links = PlainLinks()
    console = Console(io.StringIO(), links)
    assert (console.name, console.links) == ("terminal", links)
