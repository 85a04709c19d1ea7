"""A packing machine in handed-in time, and what its monitor is told of it, pictures included."""

from collections.abc import Callable

import numpy as np
from packing_rig import DARK_NS, FALL_NS, MS, ORDER, Rig, order

from viscount.monitor.model.facts import Facts, needed_by_order
from viscount.monitor.model.monitor import Monitor, Picture
from viscount.outlet import Outlet
from viscount.packing.events import Word
from viscount.packing.machine import Phase
from viscount.session.messages import BeamNow, Began, Packing, Passed, Pulsed, Snapshot
from viscount.tally import SetUp
from viscount.values import Basis, Direction, Falls, Passage, Pulse

SHAPE, FPS = (240, 90), 120
LINE_PX, BEAM_PX, SPEED_PX_S = 90.0, 130.0, 4000.0
LENGTH_PX = SPEED_PX_S * DARK_NS * 1e-9
BLADE_PX = BEAM_PX + SPEED_PX_S * FALL_NS * 1e-9
OUTLET = Outlet.model_validate(
    {"view": {"line_px": LINE_PX}, "motion": {"kind": "belt"}, "beam": {"at_px": BEAM_PX}}
)
SET_UP = SetUp(
    falls=Falls.DOWN,
    line_px=LINE_PX,
    view_px=SHAPE[0],
    scale_px_per_mm=None,
    acceleration_px_s2=0.0,
    head_share=0.5,
    quiet_s=1.0,
)
AGE_NS, LAG_NS, TELL_NS = 100 * MS, 220 * MS, 100 * MS
"""Pictures are so old when they are shown, passages are final so late, and so often it is told."""


class _Poured(Rig):
    """Notes when each part's head is at the beam."""

    def _part(self, head_ns: int) -> None:
        before = self.falling.left
        super()._part(head_ns)
        if self.falling.left < before:
            self.__dict__.setdefault("heads", []).append(head_ns)


class FilmedPacking:
    """Packs in its own time, and tells a monitor.

    Parameters
    ----------
    parts : in the magazine.
    """

    def __init__(self, parts: int, *, bags: int = 3) -> None:
        asked = order(bags=bags)
        self.rig = _Poured(asked, seed=4)
        self.rig.falling.left = parts
        facts = Facts(
            title="packing",
            outlet=OUTLET,
            needed_ms=needed_by_order(ORDER),
            has_beam=True,
            packs=True,
        )
        self.model = Monitor(facts)
        self.model.take(
            Began(
                camera="filmed",
                shape=SHAPE,
                line_px=LINE_PX,
                beam_px=BEAM_PX,
                blade_px=BLADE_PX,
            )
        )
        self._rng = np.random.default_rng(1)
        self._frames = self._passed = self._pulsed = self._said = self._kept = 0
        self._told_ns = 0

    @property
    def heads(self) -> list[int]:
        """When each part's head was, or will be, at the beam."""
        return list(self.rig.__dict__.get("heads", []))

    def until(self, true: Callable[[], bool], most_s: float = 60.0) -> None:
        """Go on until something is true of it."""
        for _ in range(round(most_s * 500)):
            if true():
                return
            self._attend()
            self.rig.step()
            self._tell()
        raise AssertionError(f"{self.rig.machine.phase} after {most_s} s")

    def _attend(self) -> None:
        if self.rig.machine.phase is Phase.WAITING:
            self.rig.say(Word.BAG)

    def _tell(self) -> None:
        now, heads = self.rig.now_ns, self.heads
        while self._frames * 1e9 / FPS + AGE_NS <= now:
            t_ns = round(self._frames * 1e9 / FPS)
            shown = Picture(index=self._frames, t_s=1e-9 * t_ns, pixels=self._picture(t_ns))
            self.model.saw([shown])
            self._frames += 1
        while self._pulsed < len(heads) and heads[self._pulsed] + 2 * DARK_NS <= now:
            start = heads[self._pulsed]
            one = Pulse(id=self._pulsed, epoch=0, start_ns=start, end_ns=start + DARK_NS)
            self.model.take(Pulsed(pulses=(one,), offset_ns=0))
            self._pulsed += 1
        while self._passed < len(heads) and heads[self._passed] + LAG_NS <= now:
            self.model.take(Passed(passages=(self._passage(self._passed),), set_up=SET_UP))
            self._passed += 1
        if now - self._told_ns >= TELL_NS:
            self._told_ns = now
            self._stand()

    def _stand(self) -> None:
        rig, machine = self.rig, self.rig.machine
        beam = BeamNow(linked=True, pulses=self._pulsed, edges=2 * self._pulsed, lost=0, waiting=0)
        self.model.take(
            Snapshot(
                t_s=max(self._frames - 1, 0) / FPS,
                count=self._passed,
                frames=self._frames,
                dropped=0,
                rate_hz=FPS,
                blind_s=0.0,
                age_ms=1e-6 * AGE_NS,
                queued=0,
                camera="on",
                beam=beam,
                unrecorded=None,
            )
        )
        says, self._said = tuple(rig.says[self._said :]), len(rig.says)
        record = rig.records[self._kept] if len(rig.records) > self._kept else None
        self._kept += record is not None
        self.model.take(
            Packing(
                says=says,
                record=record,
                phase=str(machine.stage or machine.phase),
                gate=str(rig.trigger.state),
                bag=machine.bag,
                in_bag=machine.so_far,
                wanted=machine.wanted,
                held=machine.held,
                totals=machine.totals.so_far(),
                ended=rig.ended,
            )
        )

    def _passage(self, number: int) -> Passage:
        way_s = (BEAM_PX - LINE_PX - LENGTH_PX / 2) / SPEED_PX_S
        t_ns = self.heads[number] - round(1e9 * way_s)
        frame = round(t_ns * 1e-9 * FPS)
        return Passage(
            id=number,
            t_ns=t_ns,
            sigma_ns=50_000,
            direction=Direction.WITH,
            basis=Basis.INTERPOLATED,
            speed_px_s=SPEED_PX_S,
            across_px=self._across_px(number),
            length_px=LENGTH_PX,
            parts=1,
            doubt=1e-4,
            first_frame=frame - 3,
            last_frame=frame + 4,
        )

    def _across_px(self, number: int) -> float:
        return 45.0 + 5.0 * np.sin(1.7 * number)

    def _picture(self, t_ns: int) -> np.ndarray:
        rows, columns = np.mgrid[: SHAPE[0], : SHAPE[1]]
        picture = 205.0 - 0.06 * rows
        for number, head_ns in enumerate(self.heads[-12:], start=max(len(self.heads) - 12, 0)):
            centre = BEAM_PX - LENGTH_PX / 2 + SPEED_PX_S * (t_ns - head_ns) * 1e-9
            if not -LENGTH_PX < centre < SHAPE[0] + LENGTH_PX:
                continue
            away = np.hypot(rows - centre, columns - self._across_px(number))
            ring = np.clip(LENGTH_PX / 2 - away + 0.5, 0, 1) * np.clip(
                away - LENGTH_PX / 4 + 0.5, 0, 1
            )
            picture -= 150.0 * ring
        picture += self._rng.normal(0.0, 1.5, SHAPE)
        return np.clip(np.rint(picture), 0, 255).astype(np.uint8)
