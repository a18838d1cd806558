"""Where a request comes from: this machine, a name of it, a proxy before it."""

import ipaddress
import socket
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.types import Scope

LOOPBACK_NAMES: Final = frozenset({"localhost", "127.0.0.1", "::1"})
HOME_DOMAINS: Final = ("", ".local", ".lan", ".home.arpa")
"""What homes put behind a machine's name; nobody can own a name below these elsewhere."""
FORWARDED: Final = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-forwarded-proto", "via")


def host_of(netloc: str) -> str:
    """Return the name in a Host header or address, without port and brackets."""
    try:
        return (urlsplit(f"//{netloc}").hostname or "").lower().removesuffix(".")
    except ValueError:
        return ""


def address_of(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """Return an address in numbers, None for a name; IPv4 within IPv6 as what it is."""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return None
    if isinstance(address, ipaddress.IPv6Address) and address.ipv4_mapped is not None:
        return address.ipv4_mapped
    return address


def is_loopback(host: str) -> bool:
    """Tell whether only this machine has such an address."""
    address = address_of(host)
    return host.lower() == "localhost" if address is None else address.is_loopback


def on_loopback(scope: Scope) -> bool:
    """Tell whether the request came in on a socket only this machine can reach."""
    server = scope.get("server")
    return server is None or is_loopback(str(server[0]))


def from_this_machine(scope: Scope) -> bool:
    """Tell whether somebody sits at this machine, or at the other end of a tunnel to it.

    Socket, sender, the name that was typed and the page that asks must all be of loopback, and no
    proxy may have passed it on: a proxy on this machine speaks for anybody.
    """
    headers, client = Headers(scope=scope), scope.get("client")
    origin = headers.get("origin")
    return (
        scope.get("server") is not None
        and on_loopback(scope)
        and client is not None
        and is_loopback(str(client[0]))
        and host_of(headers.get("host", "")) in LOOPBACK_NAMES
        and (origin is None or host_of(origin.partition("://")[2]) in LOOPBACK_NAMES)
        and not any(name in headers for name in FORWARDED)
    )


def own_names(machine: str) -> frozenset[str]:
    """Return the names under which a home network knows a machine.

    Args:
        machine: its own name for itself; of a long one the first part counts.
    """
    name = machine.partition(".")[0].lower()
    return frozenset(f"{name}{domain}" for domain in HOME_DOMAINS) if name else frozenset()


@dataclass(frozen=True, slots=True)
class Reach:
    """How a phone in the home network may come to these pages.

    Attributes:
        near: only this machine can come in.
        port: on which the pages are served.
        machine: name of this machine.
        numbers: returns its addresses in the home network, in numbers; they may change.
    """

    near: bool
    port: int
    machine: str
    numbers: Callable[[], tuple[str, ...]]

    def by_name(self) -> str:
        """Return the address under the name that most home networks know."""
        return f"http://{self.machine.partition('.')[0].lower()}.local:{self.port}"

    def by_number(self) -> tuple[str, ...]:
        """Return the addresses in numbers."""
        return tuple(f"http://{_bracketed(each)}:{self.port}" for each in self.numbers())


def _bracketed(number: str) -> str:
    return f"[{number}]" if ":" in number else number


def own_number() -> tuple[str, ...]:
    """Return the address under which this machine speaks to its network; nothing is sent.

    A datagram socket that is told its peer only looks up the way there. The peer is of the block
    that is kept for documents (RFC 5737), so it is nobody.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            number = str(probe.getsockname()[0])
        except OSError:
            return ()
    return () if is_loopback(number) or number == "0.0.0.0" else (number,)  # noqa: S104


def over_tls(scope: Scope, address: str | None) -> bool:
    """Tell whether the browser came over TLS, as far as a proxy before us lets us know.

    A request for the host and port of a stated https address did so even where the proxy doesn't
    say it; one to our own port beside the proxy did not.
    """
    headers = Headers(scope=scope)
    own = urlsplit(address or "")
    at_own = own.scheme == "https" and headers.get("host", "").lower() == own.netloc.lower()
    asked_over_tls = headers.get("origin", "").lower().startswith("https://")
    return scope.get("scheme") == "https" or at_own or asked_over_tls
