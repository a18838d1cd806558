"""One HTTP GET to an address that may hold a secret, so none of it is ever told."""

import http.client
import socket
import ssl
import urllib.error
import urllib.request
from email.message import Message
from functools import partial
from typing import IO, Final
from urllib.parse import urlsplit

from chamberwatch.notify.patience import STILL_HANGS, TOO_LONG, Patience
from chamberwatch.service.ports import Outcome

TIMEOUT_S: Final = 10.0
"""For each step: connecting, and waiting for an answer."""
FIRST_REFUSAL: Final = 400
ALL_S: Final = 30.0
"""For all of it: one that answers a letter at a time is never idle for long."""
KEY: Final = "sign_of_life.url"
UNFINISHED: Final = Outcome(
    ok=False, reason=f"it does not finish its answer; look at the service, and at {KEY}"
)


class Calling:
    """Calls one address again and again; none of its answers holds the caller for long."""

    def __init__(self, url: str, *, all_s: float = ALL_S) -> None:
        """Take the address, and how long a call may take altogether. [s]."""
        self._url = url
        self._patience = Patience(all_s)

    def __call__(self) -> Outcome:
        """Call once, as `call` does."""
        # Each call is another message: one that was late stands for itself alone.
        outcome = self._patience.call(object(), partial(call, self._url))
        return UNFINISHED if outcome in (TOO_LONG, STILL_HANGS) else outcome


class _Unfollowed(urllib.request.HTTPRedirectHandler):
    """Follows nothing: where another page answers, nobody has heard us."""

    def redirect_request(
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: http.client.HTTPMessage | Message,
        newurl: str,
    ) -> None:
        """Leave the answer as it is."""


def call(url: str, timeout_s: float = TIMEOUT_S) -> Outcome:
    """Ask an address for its answer, and take no notice of what it says but whether it is yes.

    Args:
        url: http or https.
        timeout_s: for each step. [s]
    """
    if urlsplit(url).scheme not in ("http", "https"):
        return Outcome(ok=False, reason=f"the address must begin with http or https; mend {KEY}")
    request = urllib.request.Request(url, headers={"User-Agent": "chamberwatch"})  # noqa: S310
    try:
        with _opener().open(request, timeout=timeout_s):
            return Outcome(ok=True)
    except urllib.error.HTTPError as error:
        with error:
            return Outcome(ok=False, reason=_answered(error.code))
    except urllib.error.URLError as error:
        return Outcome(ok=False, reason=_unreached(error.reason))
    except (OSError, http.client.HTTPException, ValueError) as error:
        return Outcome(ok=False, reason=_unreached(error))


def _opener() -> urllib.request.OpenerDirector:
    """Return one that knows http and https and nothing else, no files above all."""
    opener = urllib.request.OpenerDirector()
    for handler in (
        urllib.request.HTTPHandler(),
        urllib.request.HTTPSHandler(),
        urllib.request.HTTPDefaultErrorHandler(),
        urllib.request.HTTPErrorProcessor(),
        _Unfollowed(),
    ):
        opener.add_handler(handler)
    return opener


def _answered(code: int) -> str:
    if code < FIRST_REFUSAL:
        return f"the service points elsewhere (HTTP {code}); write its last address into {KEY}"
    return f"the service says no (HTTP {code}); look at it, and at {KEY}"


def _unreached(error: object) -> str:
    match error:
        case socket.gaierror():
            return f"its host is not known on this network; look at the network, and at {KEY}"
        case TimeoutError():
            return "it does not answer in time; look at the network, and whether it is at work"
        case ConnectionRefusedError():
            return f"nothing listens there; look whether it is at work, and at {KEY}"
        case ssl.SSLCertVerificationError():
            return f"its certificate is not trusted; look at it, and at {KEY}"
        case _:
            return f"it can't be reached ({type(error).__name__}); look at the network"
