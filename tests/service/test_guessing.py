"""Guesses at a passcode: how long whom is made to wait. The clock is turned by hand."""

import pytest

from chamberwatch.service.guessing import (
    ADDRESSES,
    ALL_IN_A_MINUTE,
    FORGOTTEN_AFTER_S,
    FREE,
    FREE_OF_NETWORK,
    IN_HAND,
    LONGEST_WAIT_S,
    WRONG_IN_A_MINUTE,
    Guesses,
    of_whom,
)

PHONE, THIEF = "192.0.2.7", "192.0.2.66"


def miss(guesses: Guesses, guesser: str, now_s: float) -> float:
    """Guess wrong; return the wait if it was not looked at."""
    wait_s = guesses.begin(guesser, now_s)
    if wait_s == 0.0:
        guesses.end(guesser, now_s, right=False)
    return wait_s


def misses(guesses: Guesses, guesser: str, count: int, now_s: float = 0.0) -> float:
    """Guess wrong so often, as soon as each is looked at; return when that was."""
    for _ in range(count):
        while wait_s := miss(guesses, guesser, now_s):
            now_s += wait_s
    return now_s


def test_slips_cost_nothing_and_then_waits_double() -> None:
    guesses, now_s, waits = Guesses(), 0.0, []
    for _ in range(FREE):
        assert miss(guesses, THIEF, now_s) == 0.0
    for _ in range(12):
        # The fifth wrong guess begins the waits.
        assert miss(guesses, THIEF, now_s) == 0.0
        wait_s = guesses.begin(THIEF, now_s)
        waits.append(wait_s)
        assert guesses.begin(THIEF, now_s + wait_s - 0.01) > 0.0
        now_s += wait_s
    assert waits == [2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900, 900]
    assert max(waits) == LONGEST_WAIT_S


def test_a_day_of_guessing_comes_to_few_guesses() -> None:
    guesses, now_s, looked_at = Guesses(), 0.0, 0
    while now_s < 86_400.0:
        wait_s = miss(guesses, THIEF, now_s)
        looked_at += wait_s == 0.0
        now_s += wait_s
    assert looked_at <= 110


def test_a_right_one_is_not_held_up_by_what_another_guessed() -> None:
    guesses = Guesses()
    now_s = misses(guesses, THIEF, 20)
    assert guesses.begin(THIEF, now_s) > 0.0
    assert guesses.begin(PHONE, now_s) == 0.0
    assert guesses.end(PHONE, now_s, right=True) == 0


def test_a_right_one_wipes_out_the_misses_before_it() -> None:
    guesses = Guesses()
    for n in range(FREE):
        assert guesses.begin(PHONE, n) == 0.0
        assert guesses.end(PHONE, n, right=False) == n + 1
    assert guesses.begin(PHONE, 10.0) == 0.0
    guesses.end(PHONE, 10.0, right=True)
    assert [miss(guesses, PHONE, 11.0) for _ in range(FREE)] == [0.0] * FREE


def test_misses_are_forgotten_after_a_day() -> None:
    guesses = Guesses()
    last_s = misses(guesses, THIEF, FREE + 8)
    assert miss(guesses, THIEF, last_s + 1) > 0.0
    later_s = last_s + FORGOTTEN_AFTER_S
    assert [miss(guesses, THIEF, later_s) for _ in range(FREE)] == [0.0] * FREE


def test_one_address_has_one_try_in_hand() -> None:
    guesses = Guesses()
    assert guesses.begin(THIEF, 0.0) == 0.0
    assert guesses.begin(THIEF, 0.0) == 1.0
    guesses.end(THIEF, 0.3, right=False)
    assert guesses.begin(THIEF, 0.3) == 0.0


def test_few_are_in_hand_at_once() -> None:
    guesses = Guesses()
    assert [guesses.begin(f"a{n}", 0.0) for n in range(IN_HAND + 1)] == [*[0.0] * IN_HAND, 1.0]
    guesses.end("a0", 0.2, right=False)
    assert guesses.begin(PHONE, 0.2) == 0.0


def test_in_a_minute_so_many_are_looked_at_and_no_more() -> None:
    guesses = Guesses()
    looked_at = [miss(guesses, f"a{n}", 0.5 * n) for n in range(ALL_IN_A_MINUTE + 1)]
    assert looked_at[:-1] == [0.0] * ALL_IN_A_MINUTE
    assert looked_at[-1] == 60.0 - 0.5 * ALL_IN_A_MINUTE
    assert guesses.begin(PHONE, 60.0) == 0.0


def test_half_is_kept_for_addresses_that_did_not_guess_wrong() -> None:
    guesses = Guesses()
    # Ten addresses, three misses each: the first of each is no second one.
    waits = [miss(guesses, f"a{n % 10}", 0.1 * n) for n in range(10 + WRONG_IN_A_MINUTE + 1)]
    assert waits[:-1] == [0.0] * (10 + WRONG_IN_A_MINUTE)
    assert waits[-1] > 50.0
    assert guesses.begin(PHONE, 3.1) == 0.0


def test_no_more_addresses_are_remembered_than_fit() -> None:
    guesses = Guesses()
    for n in range(ADDRESSES + 5):
        assert miss(guesses, f"a{n}", 10.0 * n) == 0.0
    assert len(guesses._missed) == ADDRESSES
    assert "a0" not in guesses._missed


HOMES = [
    pytest.param("2001:db8:1:2", id="of-the-internet"),
    pytest.param("fe80::", id="of-a-link"),
    pytest.param("fd00:1:2:3", id="of-a-site"),
]


def device(home: str, number: int) -> str:
    """Return an address of a home's own network."""
    return of_whom(f"{home.removesuffix('::')}{'::' if '::' in home else ':0:0:0:'}{number:x}")


@pytest.mark.parametrize("home", HOMES)
def test_a_device_that_guesses_locks_out_no_other_of_its_home(home: str) -> None:
    guesses, thief, phone, slipped = Guesses(), *(device(home, n) for n in (1, 2, 3))
    assert len({thief, phone, slipped}) == 3
    now_s = misses(guesses, thief, 40)
    assert guesses.begin(thief, now_s) > 0.0
    assert guesses.begin(phone, now_s) == 0.0
    assert guesses.end(phone, now_s, right=True) == 0
    # Nor does one device alone make a slip of another dear.
    assert [miss(guesses, slipped, now_s) for _ in range(FREE)] == [0.0] * FREE


@pytest.mark.parametrize("home", HOMES)
def test_many_addresses_of_a_network_share_their_free_misses(home: str) -> None:
    guesses, now_s = Guesses(), 0.0
    many = [device(home, n) for n in range(1, 9)]
    for n in range(FREE_OF_NETWORK + 4):
        now_s += 10.0
        assert miss(guesses, many[n % 8], now_s) == 0.0
    # Now one that missed waits after its second miss already ...
    assert guesses.begin(many[(FREE_OF_NETWORK + 3) % 8], now_s) == 16.0
    # ... counted from its own miss, however long ago; and one that never missed waits for none.
    assert guesses.begin(many[0], now_s + 60.0) == 0.0
    guesses.end(many[0], now_s + 60.0, right=True)
    assert guesses.begin(device(home, 77), now_s + 60.0) == 0.0
    assert guesses.begin(device("2001:db8:9:9", 1), now_s + 60.0) == 0.0


def test_a_right_one_takes_its_misses_off_its_network() -> None:
    guesses, now_s = Guesses(), 0.0
    family = [device("fd00:1:2:3", n) for n in range(1, 5)]
    for _ in range(10):
        for each in family:
            now_s += 10.0
            assert miss(guesses, each, now_s) == 0.0
            assert miss(guesses, each, now_s) == 0.0
            assert guesses.begin(each, now_s) == 0.0
            guesses.end(each, now_s, right=True)
    assert guesses._networks == {}


def test_no_more_networks_are_remembered_than_fit() -> None:
    guesses = Guesses()
    for n in range(ADDRESSES + 5):
        assert miss(guesses, device(f"2001:db8:0:{n:x}", 1), 10.0 * n) == 0.0
    assert len(guesses._networks) == ADDRESSES
    last_s = 10.0 * (ADDRESSES + 4)
    assert guesses.begin(PHONE, last_s + FORGOTTEN_AFTER_S) == 0.0
    assert guesses._networks == {}


@pytest.mark.parametrize(
    ("host", "guesser"),
    [
        pytest.param("192.0.2.7", "192.0.2.7", id="four"),
        pytest.param("::ffff:192.0.2.7", "192.0.2.7", id="four-within-six"),
        pytest.param("2001:db8:1:2:3:4:5:6", "2001:db8:1:2:3:4:5:6", id="six"),
        pytest.param("fe80::1%eth0", "fe80::1", id="six-of-a-link"),
        pytest.param("FD00:0::7", "fd00::7", id="six-of-a-site"),
        pytest.param("", "", id="unknown"),
        pytest.param("a-name", "a-name", id="name"),
    ],
)
def test_who_is_one_guesser(host: str, guesser: str) -> None:
    assert of_whom(host) == guesser
