"""What the library logs of a failure, in words of ours."""

import pytest

from chamberwatch.notify import reasons
from chamberwatch.service.ports import Trouble

SECRET = "hunter2"  # noqa: S105 - invented, and it must never be seen
PLAIN = f"A Connection error occurred sending a notification to {SECRET}."


@pytest.mark.parametrize(
    ("thrown", "begins", "trouble"),
    [
        ("[Errno 111] Connection refused", "nothing answers at the address", Trouble.PASSING),
        ("NameResolutionError: Name or service not known", "the name", Trouble.PASSING),
        ("[Errno -3] Temporary failure in name resolution", "the name", Trouble.PASSING),
        ("[Errno 101] Network is unreachable", "there is no way", Trouble.PASSING),
        ("[Errno 113] No route to host", "there is no way", Trouble.PASSING),
        ("Read timed out. (read timeout=20)", "the service did not answer", Trouble.PASSING),
        ("ConnectTimeoutError(...)", "the service did not answer in time", Trouble.PASSING),
        ("('Connection aborted.', BadStatusLine('x'))", "what answered there", Trouble.PASSING),
        ("(-1, b'no such thing')", "what answered there is no such", Trouble.PASSING),
        ("('Connection aborted.', RemoteDisconnected())", "the service broke", Trouble.PASSING),
        ("Connection unexpectedly closed", "the service broke off", Trouble.PASSING),
        ("SSLError: certificate verify failed", "its certificate", Trouble.PASSING),
        ("something else", "the service could not be reached", Trouble.PASSING),
        ("(421, b'busy')", "the mail server has no time", Trouble.PASSING),
        ("(450, b'later')", "the mail server has no time", Trouble.PASSING),
        ("(535, b'5.7.8 no')", "the mail server refused the login", Trouble.LASTING),
        ("{'a@b': (550, b'no such')}", "the mail server does not take mail", Trouble.LASTING),
        ("(552, b'too big')", "the mail server did not take it", Trouble.LASTING),
    ],
)
def test_kinds_of_failure(thrown: str, begins: str, trouble: Trouble) -> None:
    found = reasons.outcome("FAILURE", [PLAIN, f"Socket Exception: {SECRET} {thrown}"])
    assert found.reason.startswith(begins)
    assert (found.ok, found.trouble) == (False, trouble)
    assert SECRET not in found.reason


def test_only_what_was_thrown_is_searched() -> None:
    """A body that speaks of a refused connection is no refused connection."""
    found = reasons.outcome("FAILURE", ["JSON Payload: Connection refused (550, 'x')", PLAIN])
    assert found.reason == reasons.UNREACHED


@pytest.mark.parametrize(
    ("status", "logged", "perhaps"),
    [
        pytest.param("FAILURE", ["error=413."], True, id="too large"),
        pytest.param("FAILURE", ["error=500."], False, id="trouble of its own"),
        pytest.param("FAILURE", ["Socket Exception: (552, b'big')"], True, id="mail too large"),
        pytest.param("FAILURE", ["Socket Exception: (535, b'no')"], False, id="login refused"),
        pytest.param("FAILURE", ["Socket Exception: timed out"], False, id="nobody answered"),
        pytest.param("FAILURE", ["Could not access the attachment."], True, id="not readable"),
        pytest.param("TIMEOUT", [], False, id="may have arrived"),
    ],
)
def test_when_the_picture_may_be_at_fault(status: str, logged: list[str], perhaps: bool) -> None:
    assert reasons.perhaps_the_picture(status, logged) is perhaps
