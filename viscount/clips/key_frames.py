"""Which pictures of our own H.264 clips are key frames, from which a decoder can begin anew."""

EVERY_US = 250_000


class KeyFrames:
    """Tells of one picture after the other, by its place on the clip's time line in us.

    The first is one, and the first after each quarter of a second since the last one.
    """

    def __init__(self) -> None:
        self._next_us = 0

    def falls_on(self, at_us: int) -> bool:
        """Whether the next picture, `at_us` after the first, is a key frame."""
        due = at_us >= self._next_us
        if due:
            self._next_us = at_us + EVERY_US
        return due
