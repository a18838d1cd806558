"""Why a message did not go out: from what the library logged to words with a cure.

What the library logs may name hosts, paths and users, which are often the secret. So it is only
searched for codes and known kinds of failure; every word that leaves here is ours.
"""

import re
from collections.abc import Iterable
from typing import Final

from chamberwatch.service.ports import Outcome, Trouble

TOO_MANY: Final = 429
SERVERS_FAULT: Final = 500
_REFUSALS: Final = frozenset({401, 403, 407})
# Those that may be well by themselves: time-out, too early, and what is asked again anyway.
_PASSING_CODES: Final = frozenset({408, 425})
_OF_THE_PICTURE: Final = frozenset({400, 413, 415, 422})

UNREACHED: Final = (
    "the service could not be reached or did not answer in time; look at the network and the "
    "address"
)
_STATUS: Final = {
    "TIMEOUT": Outcome(ok=False, reason="the service did not answer in time"),
    "NOMATCH": Outcome(
        ok=False, reason="no service takes this address; look at its form", trouble=Trouble.LASTING
    ),
    "PARTIAL": Outcome(ok=False, reason="only some of the receivers got it; look at the address"),
}

# In this order: the first that is found is said.
_KINDS: Final = (
    (
        r"certificate|SSLError|\bSSL:",
        "its certificate was not accepted; look at the address and at the clock of this machine",
    ),
    (
        r"Connection refused|Errno 111\b",
        "nothing answers at the address (connection refused); look whether the service runs there",
    ),
    (
        r"Name or service not known|name resolution|NameResolution|getaddrinfo|No address assoc",
        "the name of the service was not found; look at the network and the address",
    ),
    (
        r"unreachable|No route to host",
        "there is no way to the service; look at the network",
    ),
    (
        r"[Tt]imed out|Timeout",
        "the service did not answer in time; look at the network",
    ),
    (
        r"BadStatusLine|LineTooLong|InvalidHeader|HeaderParsing|ProtocolError\('Invalid|\(-1, ",
        "what answered there is no such service; look at the address",
    ),
    (
        (
            r"RemoteDisconnected|[Cc]onnection ?[Rr]eset|unexpectedly closed|IncompleteRead|"
            r"Broken pipe|Connection aborted"
        ),
        "the service broke off before it had answered; perhaps it is busy",
    ),
)


def outcome(status: str, logged: Iterable[str]) -> Outcome:
    """Return how a try went that the library holds to have failed."""
    if status in _STATUS:
        return _STATUS[status]
    lines = list(logged)
    for line in lines:
        if found := re.search(r"\berror=(\d{3})\b", line):
            return _answered(int(found[1]))
    thrown = " ".join(line for line in lines if line.startswith("Socket Exception"))
    if found := re.search(r"\(([45]\d\d), b?['\"]", thrown):
        return _mailed(int(found[1]))
    for kind, reason in _KINDS:
        if re.search(kind, thrown):
            return Outcome(ok=False, reason=reason)
    return Outcome(ok=False, reason=UNREACHED)


def perhaps_the_picture(status: str, logged: Iterable[str]) -> bool:
    """Tell whether it is worth another try at once, without the picture.

    Where nobody answered, or the account was refused, it would go no better without.
    """
    if status != "FAILURE":
        return False
    lines = list(logged)
    text = " ".join(lines)
    if found := re.search(r"\berror=(\d{3})\b", text):
        return int(found[1]) in _OF_THE_PICTURE
    if found := re.search(r"\(([45]\d\d), b?['\"]", text):
        return int(found[1]) in (452, 552, 554)
    return "Socket Exception" not in text


def _answered(code: int) -> Outcome:
    """Say what an HTTP status means for the person who reads it."""
    if code in _REFUSALS:
        reason = f"the service refused it (HTTP {code}); look at the address and its password"
        return Outcome(ok=False, reason=reason, trouble=Trouble.LASTING)
    if code == TOO_MANY:
        reason = f"the service wants fewer messages for now (HTTP {code})"
        return Outcome(ok=False, reason=reason, trouble=Trouble.CROWDED)
    if code >= SERVERS_FAULT:
        return Outcome(ok=False, reason=f"the service has trouble of its own (HTTP {code})")
    trouble = Trouble.PASSING if code in _PASSING_CODES else Trouble.LASTING
    reason = f"the service did not take it (HTTP {code}); look at the address"
    return Outcome(ok=False, reason=reason, trouble=trouble)


_REFUSED_LOGINS: Final = frozenset({530, 534, 535, 538})
_UNKNOWN_RECEIVERS: Final = frozenset({550, 551, 553, 556})


def _mailed(code: int) -> Outcome:
    """Say the same of a mail server's reply (RFC 5321 section 4.2, RFC 4954)."""
    if code < SERVERS_FAULT:
        return Outcome(ok=False, reason=f"the mail server has no time for it now (SMTP {code})")
    if code in _REFUSED_LOGINS:
        what = "refused the login", "look at the user and the password of the address"
    elif code in _UNKNOWN_RECEIVERS:
        what = "does not take mail for this receiver", "look at the address"
    else:
        what = "did not take it", "look at the address"
    reason = f"the mail server {what[0]} (SMTP {code}); {what[1]}"
    return Outcome(ok=False, reason=reason, trouble=Trouble.LASTING)
