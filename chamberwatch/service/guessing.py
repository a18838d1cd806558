"""Who may try a passcode now: waits that grow for an address, and a limit for all together.

An address that has not guessed wrong is never held up by what another one guessed: each has a
count of its own. Of IPv6 a home has one network, and anybody in it as many addresses as he likes;
so those of a network share the misses that cost no wait, and that makes only those wait that
missed themselves. The limit for all guards the processor alone, since each try is meant to be
dear; half of it is kept for addresses that have not guessed wrong. Nothing of it is stored, and
time is an argument.
"""

import ipaddress
import threading
from collections import deque
from dataclasses import dataclass
from typing import Final

FREE: Final = 4
"""Wrong guesses of an address that cost no wait: fingers slip."""
FREE_OF_NETWORK: Final = 16
"""The same of all addresses of an IPv6 network together."""
FIRST_WAIT_S: Final = 2.0
LONGEST_WAIT_S: Final = 900.0
FORGOTTEN_AFTER_S: Final = 86_400.0

MINUTE_S: Final = 60.0
ALL_IN_A_MINUTE: Final = 40
WRONG_IN_A_MINUTE: Final = 20
"""Of all, those from addresses that guessed wrong before."""
IN_HAND: Final = 6
"""Tries that may wait for the processor at once; each holds a thread of the pages."""
SOON_S: Final = 1.0
ADDRESSES: Final = 1000
"""So many are remembered; of more, those that guessed longest ago are forgotten."""

NETWORK_BITS: Final = 64


@dataclass(frozen=True, slots=True)
class Missed:
    """How often an address guessed wrong, or those of a network together, and when last [s]."""

    wrong: int
    last_s: float


def wait_after_s(beyond: int) -> float:
    """Return how long to wait after so many misses beyond those that are free. [s]."""
    if beyond <= 0:
        return 0.0
    return min(FIRST_WAIT_S * 2.0 ** min(beyond - 1, 20), LONGEST_WAIT_S)


def of_whom(host: str) -> str:
    """Return what counts as one guesser: an address, in its one spelling."""
    try:
        address = ipaddress.ip_address(host.partition("%")[0])
    except ValueError:
        return host
    if isinstance(address, ipaddress.IPv4Address):
        return str(address)
    if address.ipv4_mapped is not None:
        return str(address.ipv4_mapped)
    return str(address)


def network_of(guesser: str) -> str:
    """Return the IPv6 network of a guesser, empty where there is none."""
    try:
        address = ipaddress.IPv6Address(guesser)
    except ValueError:
        return ""
    return str(ipaddress.ip_network((int(address), NETWORK_BITS), strict=False))


class Guesses:
    """Counts guesses. Safe to use from several threads."""

    def __init__(self) -> None:
        """Remember nobody."""
        self._missed: dict[str, Missed] = {}
        self._networks: dict[str, Missed] = {}
        self._tries: deque[tuple[float, bool]] = deque()
        self._in_hand: set[str] = set()
        self._lock = threading.Lock()

    def begin(self, guesser: str, now_s: float) -> float:
        """Return 0 and count a try that begins, or how long to wait before the next [s]."""
        with self._lock:
            self._forget(now_s)
            wait_s = max(self._own_wait_s(guesser, now_s), self._wait_for_all_s(guesser, now_s))
            if wait_s > 0.0:
                return wait_s
            self._in_hand.add(guesser)
            self._tries.append((now_s, guesser in self._missed))
            return 0.0

    def end(self, guesser: str, now_s: float, *, right: bool) -> int:
        """Count how a try that began has ended; return how many were wrong in a row."""
        with self._lock:
            self._in_hand.discard(guesser)
            before = self._missed.pop(guesser, Missed(0, now_s))
            if right:
                self._count(network_of(guesser), -min(before.wrong, FREE), now_s)
                return 0
            # What an address missed beyond that holds up itself, and is no matter of the others.
            if before.wrong < FREE:
                self._count(network_of(guesser), 1, now_s)
            _put(self._missed, guesser, Missed(before.wrong + 1, now_s))
            return before.wrong + 1

    def _count(self, network: str, misses: int, now_s: float) -> None:
        """Add to the misses of a network, or take off what a right passcode wiped out."""
        if not network or not misses:
            return
        before = self._networks.pop(network, Missed(0, now_s))
        if (wrong := before.wrong + misses) > 0:
            _put(self._networks, network, Missed(wrong, now_s))

    def _own_wait_s(self, guesser: str, now_s: float) -> float:
        # One at a time: else many could begin before the first of them is found wrong.
        if guesser in self._in_hand:
            return SOON_S
        missed = self._missed.get(guesser)
        if missed is None:
            return 0.0
        network = self._networks.get(network_of(guesser), Missed(0, now_s))
        beyond = max(missed.wrong - FREE, network.wrong - FREE_OF_NETWORK)
        # From its own last miss on: what others go on missing does not put it off for ever.
        return missed.last_s + wait_after_s(beyond) - now_s

    def _wait_for_all_s(self, guesser: str, now_s: float) -> float:
        if len(self._in_hand) >= IN_HAND:
            return SOON_S
        all_s = [at_s for at_s, _ in self._tries]
        wrong_s = [at_s for at_s, wrong in self._tries if wrong]
        if guesser in self._missed and len(wrong_s) >= WRONG_IN_A_MINUTE:
            return wrong_s[0] + MINUTE_S - now_s
        return all_s[0] + MINUTE_S - now_s if len(all_s) >= ALL_IN_A_MINUTE else 0.0

    def _forget(self, now_s: float) -> None:
        while self._tries and now_s - self._tries[0][0] >= MINUTE_S:
            self._tries.popleft()
        for kept in (self._missed, self._networks):
            for name in [n for n, m in kept.items() if now_s - m.last_s >= FORGOTTEN_AFTER_S]:
                del kept[name]


def _put(kept: dict[str, Missed], name: str, missed: Missed) -> None:
    """Keep it, as the last of all: the first is the one that missed longest ago."""
    kept[name] = missed
    if len(kept) > ADDRESSES:
        del kept[next(iter(kept))]
