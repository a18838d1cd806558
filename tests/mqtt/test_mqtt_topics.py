import pytest

from chamberwatch.mqtt.topics import OwnTopics, fault, matches


@pytest.mark.parametrize(
    ("topic_filter", "topic", "expected"),
    [
        # MQTT 3.1.1, sections 4.7.1.2, 4.7.1.3 and 4.7.2: the examples given there.
        pytest.param("sport/tennis/player1/#", "sport/tennis/player1", True, id="parent"),
        pytest.param("sport/tennis/player1/#", "sport/tennis/player1/ranking", True, id="child"),
        pytest.param(
            "sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", True, id="grandchild"
        ),
        pytest.param("#", "sport/tennis", True, id="all"),
        pytest.param("sport/tennis/+", "sport/tennis/player1", True, id="one level"),
        pytest.param("sport/tennis/+", "sport/tennis/player1/ranking", False, id="two levels"),
        pytest.param("sport/+", "sport", False, id="level missing"),
        pytest.param("sport/+", "sport/", True, id="empty level"),
        pytest.param("+/+", "/finance", True, id="leading slash, two levels"),
        pytest.param("/+", "/finance", True, id="leading slash"),
        pytest.param("+", "/finance", False, id="leading slash is a level"),
        pytest.param("#", "$SYS/uptime", False, id="# leaves the broker's own"),
        pytest.param("+/monitor/Clients", "$SYS/monitor/Clients", False, id="+ leaves them too"),
        pytest.param("$SYS/#", "$SYS/uptime", True, id="the broker's own by name"),
        pytest.param("$SYS/monitor/+", "$SYS/monitor/Clients", True, id="and a level of them"),
        pytest.param("tent/air", "tent/air", True, id="itself"),
        pytest.param("tent/air", "tent/Air", False, id="other letters"),
        pytest.param("tent/air", "tent/air/top", False, id="longer"),
        pytest.param("+/$odd", "tent/$odd", True, id="$ further on is a letter"),
    ],
)
def test_filters_match_as_the_standard_says(
    topic_filter: str, topic: str, *, expected: bool
) -> None:
    assert matches(topic_filter, topic) is expected


@pytest.mark.parametrize(
    ("topic_filter", "part"),
    [
        pytest.param("", "at least one", id="empty"),
        pytest.param("tent/#/air", "last level", id="# within"),
        pytest.param("tent#", "last level", id="# beside a letter"),
        pytest.param("#/#", "last level", id="two #"),
        pytest.param("tent/a+", "whole level", id="+ beside a letter"),
        pytest.param("te\0nt", "NUL", id="nul"),
        pytest.param("t" * 65_536, "65535", id="too long"),
    ],
)
def test_wrong_filters_are_told(topic_filter: str, part: str) -> None:
    assert part in fault(topic_filter)


@pytest.mark.parametrize("topic_filter", ["#", "+", "tent/+/air", "tent/#", "/", "a b/ü"])
def test_right_filters_pass(topic_filter: str) -> None:
    assert fault(topic_filter) == ""


@pytest.mark.parametrize(
    ("prefix", "topic", "ours"),
    [
        pytest.param("chamberwatch", "chamberwatch/status", True, id="status"),
        pytest.param("chamberwatch", "chamberwatch/chamber/tent", True, id="chamber"),
        pytest.param("chamberwatch", "chamberwatch/reminder/tent/mist", True, id="reminder"),
        pytest.param("a/b", "a/b/status", True, id="a longer prefix"),
        pytest.param("chamberwatch", "chamberwatch/tent/air", False, id="a sensor below it"),
        pytest.param("chamberwatch", "chamberwatch/statuses", False, id="begins like it"),
        pytest.param("chamberwatch", "chamberwatch2/status", False, id="another prefix"),
        pytest.param("chamberwatch", "chamberwatch", False, id="the prefix alone"),
        pytest.param("", "status", False, id="switched off"),
        pytest.param("", "/status", False, id="switched off, with an empty level"),
    ],
)
def test_own_topics(prefix: str, topic: str, ours: bool) -> None:
    assert OwnTopics(prefix).hold(topic) is ours
