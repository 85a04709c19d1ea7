"""What the monitor shows of a run, told by messages and pictures, bounded in memory."""

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.result import WORTH_A_LOOK
from viscount.errors import ViscountError
from viscount.monitor.model.doubts import Doubt, Doubts
from viscount.monitor.model.facts import Facts
from viscount.monitor.model.gaps import Gaps
from viscount.monitor.model.numbers import Numbers
from viscount.monitor.model.proof import Proofs, Small, small
from viscount.monitor.model.scenery import Scenery
from viscount.monitor.model.standing import (
    Shape,
    Standing,
    beam_standing,
    camera_standing,
    gate_standing,
)
from viscount.monitor.model.state import State, counting_state, ended_state, packing_state
from viscount.monitor.model.strip import Strip
from viscount.monitor.model.trains import Trains
from viscount.packing.actions import Say
from viscount.session.messages import (
    Began,
    Ended,
    Failed,
    Packing,
    Passed,
    Pulsed,
    Snapshot,
    Told,
)
from viscount.tally import SetUp, Tally
from viscount.values import Level, Passage, Pulse

MOST_PARTS: Final = 400
"""A pour of more parts is paired at the run's end only."""
QUIET_S: Final = 1.2
"""A pour is paired when neither counter had anything for so long."""
SAYS: Final = 20
_IN_FLIGHT: Final = 4 * MOST_PARTS


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """The picture shown; `shrunk` says that only every so many lines and columns are there."""

    index: int
    t_s: float
    pixels: NDArray[np.uint8]
    shrunk: int = 1


class Monitor:
    """Holds what is shown. No threads, no windows; whoever feeds it also draws it.

    Parameters
    ----------
    facts : what is known beforehand.

    Attributes
    ----------
    revision : grows with everything that changes what is shown.
    now_s : the run's time.
    """

    def __init__(self, facts: Facts) -> None:
        self.facts = facts
        self.revision = 0
        self.now_s = 0.0
        self.scenery: Scenery | None = None
        self.picture: Picture | None = None
        self.strip: Strip | None = None
        self.trains = Trains()
        self.gaps = Gaps(needed_ms=facts.needed_ms)
        self.doubts = Doubts()
        self.proofs = Proofs()
        self.numbers = Numbers(wanted=facts.expected)
        self.tally: Tally | None = None
        self.failed: ViscountError | None = None
        self.missed = 0
        self._snapshot: Snapshot | None = None
        self._packing: Packing | None = None
        self._says: deque[Say] = deque(maxlen=SAYS)
        self._set_up: SetUp | None = None
        self._origin_ns = 0
        self._count = self._begun = 0
        self._passages: list[Passage] = []
        self._pulses: list[Pulse] = []
        self._over = self._holed = False
        self._heard_s = 0.0

    @property
    def nbytes(self) -> int:
        """Memory of all that is kept."""
        strip = 0 if self.strip is None else self.strip.nbytes
        return strip + self.trains.nbytes + self.gaps.nbytes + self.proofs.nbytes

    @property
    def over(self) -> bool:
        """Whether the run has ended."""
        return self._over

    @property
    def last_s(self) -> float:
        """When the last part crossed the line; the time at the start before there was one."""
        return float(self.trains.last_s) if np.isfinite(self.trains.last_s) else 0.0

    @property
    def settled(self) -> bool:
        """Whether both counters have had time for all that fell: only then are they compared."""
        return self._over or self.now_s - self._heard_s > QUIET_S

    @property
    def shown_until_s(self) -> float:
        """What is later is not shown yet."""
        return float(np.inf)

    def proof(self, doubt: Doubt) -> tuple[Small, ...]:
        """Return small pictures of the frames that show a doubt; none where none were kept."""
        return self.proofs.of(doubt.number)

    @property
    def things(self) -> tuple[Standing, ...]:
        """How camera, beam and gate stand."""
        if self._over:
            words = "the run has ended"
            return tuple(
                Standing(name=one.name, shape=Shape.OFF, words=words)
                if one.shape is not Shape.BAD
                else one
                for one in self._things()
            )
        return self._things()

    @property
    def state(self) -> State:
        """How the run stands."""
        if self.failed is not None:
            return State(shape=Shape.BAD, word="the run broke off", sentence=str(self.failed))
        if self._packing is not None:
            return packing_state(self._packing, tuple(self._says), self.things)
        if self.tally is not None:
            return ended_state(self.tally)
        if self._over:
            sentence = "the counting process ended without an answer"
            return State(shape=Shape.BAD, word="no answer", sentence=sentence)
        doubts = sum(one.level is not Level.INFO for one in self.doubts)
        return counting_state(self.things, doubts, began=self.scenery is not None)

    def take(self, value: Any) -> None:
        """Take what a run has told."""
        self.revision += 1
        match value:
            case Began():
                self._begin(value)
            case Snapshot():
                self._snapshot = value
                self._go_on(value.t_s)
                self._pair_if_quiet()
                self._count_up()
            case Passed():
                self._passed(value)
            case Pulsed():
                self._pulsed(value)
            case Told():
                self.doubts.told(value.notice, self.now_s)
            case Packing():
                self._packed(value)
            case Ended():
                self.end(value.tally)
            case Failed():
                self.failed, self._over = value.error, True

    def saw(self, pictures: Iterable[Picture]) -> None:
        """Take pictures, oldest first; the last one is shown."""
        for one in pictures:
            self.revision += 1
            self.picture = one
            self._go_on(one.t_s)
            if self.strip is not None:
                self.strip.add(one.t_s, one.pixels, one.shrunk)
            self.proofs.add(small(one.pixels, index=one.index, t_s=one.t_s, shrunk=one.shrunk))

    def miss(self, count: int) -> None:
        """Hear how many values did not come: a pour with holes in it is not paired here."""
        if count != self.missed:
            self.missed, self._holed = count, True
            self.revision += 1

    def lost(self) -> None:
        """Take it that nothing more will come."""
        if not self._over:
            self._over = True
            self.revision += 1

    def end(self, tally: Tally) -> None:
        """Take the tally of the run."""
        self.tally, self._over = tally, True
        level = Level.INVALID if tally.count is None else Level.DOUBT
        self.doubts.reasoned(tally.reasons, level)
        self.doubts.reasoned(tally.notes, Level.INFO)
        if tally.pairings and self._packing is None:
            self.load(tally)
        self._count_up()

    def load(self, tally: Tally) -> None:
        """Show the passages, pulses and pairings of a tally."""
        passages = [one.passage for one in tally.passages]
        self._set_up = tally.set_up
        self.trains.clear()
        self.trains.passed(passages, tally.set_up)
        self.trains.pulsed(
            (one.pulse for one in tally.pulses), [one.captured_ns for one in tally.pulses]
        )
        pairings = [one.pairing for one in tally.pairings]
        self.trains.paired(pairings)
        self.doubts.passed(passages)
        self.doubts.paired(pairings, {one.id: one for one in passages})
        self._passages, self._pulses = [], []

    def begin(self, scenery: Scenery) -> None:
        """Hear where things are in the picture."""
        self.scenery = scenery
        self.strip = Strip(scenery)
        self.trains = Trains(scenery.below_line_px(scenery.beam_px))
        below = scenery.below_line_px(scenery.blade_px)
        self.gaps = Gaps(below, self.facts.needed_ms)

    def _begin(self, began: Began) -> None:
        self._origin_ns = began.origin_ns
        self.begin(
            Scenery(
                shape=began.shape,
                falls=began.falls,
                line_px=began.line_px,
                beam_px=began.beam_px,
                blade_px=began.blade_px,
            )
        )

    def _go_on(self, t_s: float) -> None:
        self.now_s = max(self.now_s, t_s)

    def _passed(self, value: Passed) -> None:
        self._set_up = value.set_up or self._set_up
        self.trains.passed(value.passages, value.set_up)
        self.gaps.passed(value.passages, value.set_up)
        for passage, doubt in zip(
            [p for p in value.passages if p.doubt > WORTH_A_LOOK],
            self.doubts.passed(value.passages),
            strict=False,
        ):
            self._prove(doubt, passage)
        self._heard_s = self.now_s
        if self.facts.has_beam:
            self._passages += value.passages
            del self._passages[:-_IN_FLIGHT]

    def _pulsed(self, value: Pulsed) -> None:
        at = [p.start_ns + value.offset_ns - self._origin_ns for p in value.pulses]
        self.trains.pulsed(value.pulses, at)
        self._begun += len(value.pulses)
        self._heard_s = self.now_s
        self._pulses += value.pulses
        del self._pulses[:-_IN_FLIGHT]

    def _pair_if_quiet(self) -> None:
        """Pair the pour that has ended, as its tally will be."""
        quiet = self.now_s - self._heard_s > QUIET_S
        if not quiet or not (self._passages or self._pulses):
            return
        passages, pulses = self._passages, self._pulses
        self._passages, self._pulses = [], []
        holed, self._holed = self._holed, False
        if holed or self._set_up is None or not passages or not pulses:
            return
        if max(len(passages), len(pulses)) > MOST_PARTS:
            return
        # Heavy, and not needed before the first pour has ended: a window opens sooner without it.
        from viscount.monitor.model.pairing import paired_pour

        rate = None if self._snapshot is None else self._snapshot.rate_hz
        tally = paired_pour(passages, pulses, self._set_up, self.facts.outlet, rate_hz=rate)
        placed = {p.pulse.id: 1e-9 * p.captured_ns for p in tally.pulses if p.captured_ns}
        self.trains.placed(placed)
        pairings = [one.pairing for one in tally.pairings]
        self.trains.paired(pairings)
        own = {one.id: one for one in passages}
        for doubt in self.doubts.paired(pairings, own):
            if doubt.t_s is not None:
                self.proofs.keep(doubt.number, doubt.t_s - 0.05, doubt.t_s + 0.05)

    def _prove(self, doubt: Doubt, passage: Passage) -> None:
        """Keep the pictures that show a doubtful passage."""
        rate = None if self._snapshot is None else self._snapshot.rate_hz
        interval_s = 1.0 / rate if rate else 0.01
        span = (passage.last_frame - passage.first_frame + 1) * interval_s
        at_s = 1e-9 * passage.t_ns
        self.proofs.keep(doubt.number, at_s - span, at_s + span)

    def _packed(self, value: Packing) -> None:
        self._packing = value
        self._says.extend(value.says)
        if value.record is not None:
            self.gaps.interrupt()
            for doubt in self.doubts.bagged(value.record, self.now_s):
                self.proofs.keep(doubt.number, self.now_s - 1.0, self.now_s)
        self._over = self._over or value.ended
        self._count_up()

    def _count_up(self) -> None:
        """Bring the large numbers up to date."""
        now, packing, tally = self._snapshot, self._packing, self.tally
        count = 0 if now is None else now.count
        beam = None
        if now is not None and now.beam is not None:
            beam = now.beam.pulses
        if packing is not None:
            name = "check pour" if packing.bag == 0 else f"bag {packing.bag}"
            self.numbers = Numbers(
                in_bag=packing.in_bag,
                wanted=packing.wanted,
                held=packing.held,
                label="in the bag",
                camera=count,
                beam=beam,
                bag=f"{name}; {packing.totals.packed} good so far",
            )
        elif tally is not None:
            counted = self.facts.expected
            self.numbers = Numbers(
                in_bag=tally.count,
                wanted=counted,
                held=tally.held,
                camera=tally.camera.count,
                beam=None if tally.beam is None else tally.beam.parts,
                beam_label="parts",
            )
        else:
            self.numbers = Numbers(
                in_bag=count, wanted=self.facts.expected, camera=count, beam=beam
            )

    def _things(self) -> tuple[Standing, ...]:
        now = self._snapshot
        beam = None if now is None else now.beam
        shown = beam_standing(beam)
        if self.facts.has_beam and beam is None:
            shown = Standing(name="beam", shape=Shape.WAITS, words="waiting for its board")
        return camera_standing(now), shown, gate_standing(self._packing)
