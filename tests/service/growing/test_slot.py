"""What is kept is reckoned anew for another object, equal or not."""

from chamberwatch.service.growing.slot import Slot


def test_reckoned_once_for_each_object() -> None:
    slot: Slot[int] = Slot()
    first, second = {"a": 1}, {"a": 1}
    made: list[int] = []

    def make() -> int:
        made.append(len(made))
        return made[-1]

    found = [slot.of(source, make) for source in (first, first, second, second, first)]
    assert found == [0, 0, 1, 1, 2]
