"""A counted recording that is played: where it is, what is counted by then, where to look next."""

from collections.abc import Sequence
from typing import Final, Protocol

import numpy as np

from viscount.monitor.model.doubts import Doubt
from viscount.monitor.model.facts import Facts
from viscount.monitor.model.gaps import Gaps
from viscount.monitor.model.monitor import Monitor, Picture
from viscount.monitor.model.numbers import Numbers
from viscount.monitor.model.proof import Small, evenly, small
from viscount.monitor.model.scenery import Scenery
from viscount.monitor.model.standing import Shape, Standing
from viscount.monitor.model.state import State, ended_state
from viscount.monitor.model.strip import Strip
from viscount.monitor.model.trains import Trains
from viscount.tally import Tally
from viscount.values import Level

SPEEDS: Final = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
AROUND_FRAMES: Final = 2
SETTLED_S: Final = 0.001


class Reel(Protocol):
    """Hands out any frame of a recording."""

    def pixels(self, index: int) -> "np.ndarray[tuple[int, ...], np.dtype[np.uint8]] | None":
        """Return a frame's picture, (H, W) uint8; None where it cannot be read any more."""
        ...


class Playback(Monitor):
    """A monitor whose time can go anywhere in a counted recording.

    Parameters
    ----------
    facts : what is known beforehand.
    tally : what the recording came to.
    scenery : where things are.
    times_s : (n,) of all frames, rising.
    strip : of all frames, as far as they fit.
    reel : hands out the frames.
    """

    def __init__(
        self,
        facts: Facts,
        tally: Tally,
        scenery: Scenery,
        times_s: Sequence[float],
        strip: Strip,
        reel: Reel,
    ) -> None:
        super().__init__(facts)
        self._times = np.asarray(times_s, dtype=np.float64)
        self._reel = reel
        self.index = 0
        self.playing = False
        self.speed = 1.0
        self.begin(scenery)
        self.strip = strip
        most = max(len(tally.passages), len(tally.pulses), len(tally.pairings), 1)
        self.trains = Trains(scenery.below_line_px(scenery.beam_px), most)
        self.gaps = Gaps(scenery.below_line_px(scenery.blade_px), facts.needed_ms, most)
        self.load(tally)
        self.gaps.passed((one.passage for one in tally.passages), tally.set_up)
        level = Level.INVALID if tally.count is None else Level.DOUBT
        self.doubts.reasoned(tally.reasons, level)
        self.doubts.reasoned(tally.notes, Level.INFO)
        self.tally = tally
        self._whole = strip if len(strip) == len(self._times) else None
        self.go_to(0)

    @property
    def frames(self) -> int:
        """How many there are."""
        return len(self._times)

    @property
    def end_s(self) -> float:
        """The last frame's time."""
        return float(self._times[-1])

    @property
    def last_s(self) -> float:
        """When the last part before now crossed the line."""
        return self.trains.last_before_s(self.now_s)

    @property
    def settled(self) -> bool:
        """Whether no part is just about at the line."""
        return self.trains.nearest_s(self.now_s) > SETTLED_S

    @property
    def shown_until_s(self) -> float:
        """What is later than the frame shown has not happened."""
        return self.now_s

    @property
    def at_end(self) -> bool:
        """Whether the last frame is shown."""
        return self.index >= self.frames - 1

    @property
    def things(self) -> tuple[Standing, ...]:
        """What the recording says of camera and beam."""
        tally = self.tally
        assert tally is not None
        frames = tally.frames
        rate = "" if frames.rate_hz is None else f" at {frames.rate_hz:.0f} a second"
        clean = not (frames.lost or frames.damaged or frames.blind)
        words = f"{frames.read} pictures{rate}"
        if not clean:
            words += f"; {frames.lost} lost, {frames.damaged} damaged, blind {frames.blind_s:.2f} s"
        camera = Standing(
            name="camera",
            shape=Shape.GOOD if clean else Shape.DOUBT,
            words=words,
            remedy="" if clean else "pour again where it matters",
        )
        beam = Standing(name="beam", shape=Shape.OFF, words="no log was given: add --beam FILE")
        if tally.beam is not None:
            reasons = tally.beam.reasons
            beam = Standing(
                name="beam",
                shape=Shape.DOUBT if reasons else Shape.GOOD,
                words=reasons[0].text if reasons else f"{tally.beam.pulses} pulses in its log",
                remedy=reasons[0].code.remedy if reasons else "",
            )
        needed = self.facts.needed_ms
        words = "its strokes are not known: add --strokes FILE"
        if needed is not None:
            words = f"needs {needed:.1f} ms between two parts"
        return camera, beam, Standing(name="gate", shape=Shape.OFF, words=words)

    @property
    def state(self) -> State:
        """What the recording came to."""
        assert self.tally is not None
        return ended_state(self.tally, of="the recording")

    def tick(self, elapsed_s: float) -> None:
        """Play on by so much time of the person who looks."""
        if not self.playing:
            return
        aim_s = self._aim_s + elapsed_s * self.speed
        index = int(np.searchsorted(self._times, aim_s, "right")) - 1
        if index > self.index:
            self.go_to(index)
        self._aim_s = aim_s
        if self.at_end:
            self.playing = False
            self.revision += 1

    def play(self) -> None:
        """Play on, or from the start where it is over; or stop."""
        self.playing = not self.playing
        if self.playing and self.at_end:
            self.go_to(0)
        self._aim_s = self.now_s
        self.revision += 1

    def step(self, frames: int) -> None:
        """Go so many frames on, or back; it then stands still."""
        self.playing = False
        self.go_to(self.index + frames)

    def faster(self, steps: int) -> None:
        """Play at the next speed up or down."""
        at = int(np.argmin(np.abs(np.log(np.array(SPEEDS) / self.speed))))
        self.speed = SPEEDS[int(np.clip(at + steps, 0, len(SPEEDS) - 1))]
        self.revision += 1

    def go_to(self, index: int) -> None:
        """Show a frame, and what was counted by then."""
        self.index = int(np.clip(index, 0, self.frames - 1))
        self.now_s = self._aim_s = float(self._times[self.index])
        pixels = self._reel.pixels(self.index)
        if pixels is not None:
            self.picture = Picture(index=self.index, t_s=self.now_s, pixels=pixels)
        if self._whole is None:
            self._refill()
        self._count_up()
        self.revision += 1

    def go_to_s(self, t_s: float) -> None:
        """Show the frame of a time."""
        self.go_to(int(np.searchsorted(self._times, t_s, "right")) - 1)

    def next_doubt(self, way: int = 1) -> Doubt | None:
        """Return the next doubt with a place in time, on or back from now; around at the end."""
        placed = sorted((d for d in self.doubts if d.t_s is not None), key=lambda d: d.t_s or 0.0)
        if not placed:
            return None
        slack = 1e-6
        later = [d for d in placed if (d.t_s or 0.0) * way > self._looked_s * way + slack]
        return (later or placed)[0 if way > 0 else -1]

    def look_at(self, doubt: Doubt) -> None:
        """Show the frame of a doubt."""
        self.playing = False
        if doubt.t_s is not None:
            self.go_to_s(doubt.t_s)
            self._looked = doubt.t_s

    def proof(self, doubt: Doubt) -> tuple[Small, ...]:
        """Return small pictures of the frames that show a doubt, read again."""
        if doubt.frames is None and doubt.t_s is None:
            return ()
        if doubt.frames is not None:
            first, last = doubt.frames
        else:
            first = last = int(np.searchsorted(self._times, doubt.t_s or 0.0)) - 1
        low = max(first - AROUND_FRAMES, 0)
        high = min(last + AROUND_FRAMES, self.frames - 1)
        wanted = evenly_of(low, high)
        made = []
        for index in wanted:
            pixels = self._reel.pixels(index)
            if pixels is not None:
                made.append(small(pixels, index=index, t_s=float(self._times[index])))
        return tuple(evenly(made))

    _aim_s = 0.0
    _looked: float | None = None

    @property
    def _looked_s(self) -> float:
        """From where the next doubt is looked for: the last one, while its frame is shown."""
        looked = self._looked
        if looked is not None and abs(looked - self.now_s) < 2.0 * self._interval_s:
            return looked
        return self.now_s

    @property
    def _interval_s(self) -> float:
        return float(np.median(np.diff(self._times))) if self.frames > 1 else 0.01

    def _refill(self) -> None:
        """Have the strip hold what passed just before now, of a recording too long to keep."""
        strip = self.strip
        assert strip is not None
        strip.clear()
        first = int(np.searchsorted(self._times, self.now_s - REFILL_S))
        for index in range(max(first, self.index - REFILL_FRAMES), self.index + 1):
            pixels = self._reel.pixels(index)
            if pixels is not None:
                strip.add(float(self._times[index]), pixels)

    def _count_up(self) -> None:
        tally = self.tally
        if tally is None:
            return
        through, begun = self.trains.counts(self.now_s)
        self.numbers = Numbers(
            in_bag=None if tally.count is None else through,
            wanted=self.facts.expected,
            held=tally.held if self.at_end else None,
            camera=through,
            beam=None if tally.beam is None else begun,
        )


REFILL_S: Final = 1.0
REFILL_FRAMES: Final = 160


def evenly_of(first: int, last: int, most: int = 24) -> list[int]:
    """Return at most so many whole numbers from first to last, both among them."""
    if last - first < most:
        return list(range(first, last + 1))
    return [int(k) for k in np.linspace(first, last, most).round()]
