"""An outlet in real time: parts that fall while a board's blade is open, and a camera beside it."""

import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Self

import numpy as np
from counting import outlet
from pty_boards import PtyBoard

from viscount.clock import Alarm
from viscount.gate.strokes import Moves, Strokes
from viscount.packing.order import PackOrder
from viscount.session.packing import way_of
from viscount.testing.board import Place
from viscount.values import Frame, Notice

FPS = 120
BEAM_PX, SPEED_PX_S, LENGTH_PX = 120.0, 1500.0, 32.0
EVERY_NS, AHEAD_NS = 120_000_000, 110_000_000
"""From part to part, and from a part's release until its head reaches the beam."""
OUTLET = outlet(
    view={"line_px": 80, "scale_px_per_mm": 4.0, "lip_px": -16.0},
    motion={"kind": "belt", "speed_mm_s": 375.0, "speed_tolerance_percent": 2.0},
    beam={"below_lip_mm": 34.0, "width_mm": 1.0},
    gate={"below_lip_mm": 60.0, "name": "serial"},
    part={"name": "plate", "along_fall_mm": 8.0},
)
STROKES = Strokes(
    shutting=Moves(
        first_motion_s=np.array([0.004, 0.004]),
        begins_s=np.array([0.008, 0.014]),
        done_s=np.array([0.012, 0.018]),
    ),
    opening=None,
)


def order(each: int, bags: int) -> PackOrder:
    """The command comes once the tail of part N is past the blade, and before the next head."""
    return PackOrder(
        each=each,
        bags=bags,
        part="plate",
        delay_us=88_000,
        way=way_of(OUTLET, STROKES),
        empty_ms=700,
    )


class Magazine:
    """Lets parts go where the blade of a board does not hold the column back.

    Parameters
    ----------
    parts : in it.

    Attributes
    ----------
    heads : when the head of each part is at the beam, by the monotonic clock in ns.
    """

    def __init__(self, board: PtyBoard, parts: int) -> None:
        self.left = parts
        self.heads: list[int] = []
        self._board = board
        self._next_ns: int | None = None

    def tend(self, now_ns: int) -> None:
        # A camera that is held up must not tell the board of what is long past.
        now_ns = max(now_ns, time.monotonic_ns())
        with self._board.lock:
            moves = self._board.board.blade_log
            if not moves or moves[-1].place is Place.SHUT:
                self._next_ns = None
                return
            if self._next_ns is None:
                self._next_ns = now_ns + 20_000_000
            if self.left > 0 and now_ns >= self._next_ns:
                self._next_ns = now_ns + EVERY_NS
                self.left -= 1
                head_ns = now_ns + AHEAD_NS
                self.heads.append(head_ns)
                self._board.board.beam(head_ns, True)
                self._board.board.beam(head_ns + round(1e9 * LENGTH_PX / SPEED_PX_S), False)


class PouringCamera:
    """Sees the parts of a magazine.

    Parameters
    ----------
    heads : as a magazine has them; looked at again for each picture.
    magazine : is tended with each picture, or None.
    unseen : numbers of parts, from 0, that the camera does not see.
    """

    recorded, may_repeat = False, True

    def __init__(
        self,
        heads: Callable[[], Sequence[int]],
        magazine: Magazine | None = None,
        *,
        unseen: frozenset[int] = frozenset(),
    ) -> None:
        self._seen_heads = heads
        self._magazine = magazine
        self._unseen = unseen
        self._alarm = Alarm()
        self._rng = np.random.default_rng(1)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def frames(self) -> Iterator[Frame]:
        begun_ns = time.monotonic_ns()
        index = 0
        while True:
            t_ns = begun_ns + round(index * 1e9 / FPS)
            if self._alarm.wait_until(t_ns):
                return
            if self._magazine is not None:
                self._magazine.tend(t_ns)
            pixels = self._picture(t_ns)
            age_ns = time.monotonic_ns() - t_ns
            yield Frame(index=index, t_ns=t_ns - begun_ns, pixels=pixels, age_ns=age_ns)
            index += 1

    def _picture(self, t_ns: int) -> np.ndarray:
        rows = np.arange(160.0)
        shade = np.zeros(160)
        for number, head_ns in enumerate(self._seen_heads()):
            if number not in self._unseen:
                head_px = BEAM_PX + SPEED_PX_S * (t_ns - head_ns) * 1e-9
                above_px = np.maximum(rows - 0.5, head_px - LENGTH_PX)
                shade += np.clip(np.minimum(rows + 0.5, head_px) - above_px, 0.0, 1.0)
        picture = np.full((160, 64), 200.0)
        picture[:, 20:44] -= 140.0 * shade[:, None]
        picture += self._rng.normal(0.0, 1.5, picture.shape)
        pixels = np.clip(np.rint(picture), 0, 255).astype(np.uint8)
        pixels.flags.writeable = False
        return pixels

    def notices(self) -> tuple[Notice, ...]:
        return ()

    def close(self) -> None:
        self._alarm.ring()


def pouring(
    board: PtyBoard, parts: int, unseen: frozenset[int] = frozenset()
) -> tuple[Magazine, PouringCamera]:
    """Return a magazine, and the camera that sees its parts."""
    magazine = Magazine(board, parts)
    return magazine, PouringCamera(lambda: magazine.heads, magazine, unseen=unseen)


class HeadsFileCamera(PouringCamera):
    """Sees the parts that another process writes into a file, a line each."""

    def __init__(self, path: Path) -> None:
        super().__init__(lambda: [int(line) for line in path.read_text("utf-8").split()])
