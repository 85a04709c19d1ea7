"""A serial line that damages what it carries."""

import random
from collections.abc import Iterator


class LossyChannel:
    """Carries bytes in pieces, and flips, drops and adds some.

    Parameters
    ----------
    seed : the same seed does the same damage to the same bytes.
    flipped : chance for each byte that one of its bits flips.
    dropped : chance for each byte that it is lost.
    noise : chance at each byte that a byte of noise stands ahead of it.
    longest_piece : pieces are 1 to so many bytes long.

    Attributes
    ----------
    hurt : bytes flipped, dropped or added so far.
    """

    def __init__(
        self,
        seed: int,
        *,
        flipped: float = 0.0,
        dropped: float = 0.0,
        noise: float = 0.0,
        longest_piece: int = 64,
    ) -> None:
        self.hurt = 0
        self._rng = random.Random(seed)
        self._flipped = flipped
        self._dropped = dropped
        self._noise = noise
        self._longest = longest_piece

    def carry(self, data: bytes) -> Iterator[bytes]:
        """Yield the pieces that arrive."""
        arrived = b"".join(self._byte(one) for one in data)
        while arrived:
            size = self._rng.randint(1, self._longest)
            yield arrived[:size]
            arrived = arrived[size:]

    def _byte(self, one: int) -> bytes:
        ahead = b""
        if self._rng.random() < self._noise:
            self.hurt += 1
            ahead = self._rng.randbytes(1)
        if self._rng.random() < self._dropped:
            self.hurt += 1
            return ahead
        if self._rng.random() < self._flipped:
            self.hurt += 1
            one ^= 1 << self._rng.randrange(8)
        return ahead + bytes([one])
