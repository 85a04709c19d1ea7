"""A property that is found once."""

from viscount.motion.once import Once


class Seen:
    def __init__(self) -> None:
        self.asked = 0

    @Once
    def place(self) -> int:
        """Where it is."""
        self.asked += 1
        return 10 * self.asked


def test_it_is_found_when_it_is_first_asked_for_and_kept() -> None:
    one, other = Seen(), Seen()
    assert one.asked == 0
    assert [one.place, one.place, one.asked] == [10, 10, 1]
    assert [other.asked, other.place] == [0, 10]


def test_of_the_class_it_is_the_property_itself() -> None:
    assert isinstance(Seen.place, Once)
    assert Seen.place.__doc__ == "Where it is."
