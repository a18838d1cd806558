"""Where a request comes from: this machine, a name of it, a proxy before it."""

import ipaddress
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
