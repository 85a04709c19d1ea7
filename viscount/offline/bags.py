"""What is in each bag of a counted recording: by the camera, or inferred from the gate's log."""

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from viscount import fall
from viscount.agreement.result import result
from viscount.codes import Code
from viscount.devices.triggers.gate_log import GateLog, read_gate_log
from viscount.devices.triggers.strokes import read_strokes
from viscount.errors import UsageError
from viscount.gate.bags import Bags, bags_above
from viscount.gate.bags_below import Crossed, bags_below
from viscount.gate.board_clock import BoardClock, board_clock
from viscount.gate.coming import NONE_COMING, Coming, coming
from viscount.gate.commands import Commands
from viscount.gate.strokes import Strokes
from viscount.measure.heights import Height, height_below_line
from viscount.measure.poured import Pour, pours_of_tally, refuses_times
from viscount.outlet import Outlet
from viscount.stream import at_height
from viscount.tally import Bag, Reason, Tally
from viscount.values import Direction, Passage, Status

Floats = NDArray[np.float64]

_FALLS_WITHIN = 1.1
"""What falls from rest takes no longer than so many times what the law says."""
_CLEAR = 4.0
_RECORDS_TO = 1.0
"""Commands so many seconds before or after a recording may still belong to it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GateSeen:
    """What is known of the gate beside a recording.

    Attributes
    ----------
    log : its commands.
    strokes : None where they were not measured.
    lay_before : how many parts lay on the blade when the recording began; None unknown.
    """

    log: GateLog
    strokes: Strokes | None
    lay_before: int | None


def gate_seen(
    log: str | Path | None, strokes: str | Path | None, lay_before: int | None
) -> GateSeen | None:
    """Read what was given of the gate; None where nothing was.

    Raises
    ------
    viscount.errors.ViscountError : for files that cannot be read, or that need each other.
    """
    if log is None:
        for option, given in (("--strokes", strokes), ("--held", lay_before)):
            if given is not None:
                raise UsageError(
                    "no log of the gate's commands",
                    where=option,
                    remedy="add --gate-log FILE, which says when the gate was told to move",
                )
        return None
    if lay_before is not None and lay_before < 0:
        raise UsageError(f"{lay_before} parts on the blade", where="--held", allowed="0 or more")
    return GateSeen(
        log=read_gate_log(log),
        strokes=None if strokes is None else read_strokes(strokes),
        lay_before=lay_before,
    )


def with_bags(tally: Tally, outlet: Outlet, gate: GateSeen | None) -> Tally:
    """Return a tally that says what is in each bag, as far as that is known.

    Below the blade the camera has seen what fell into the bag. Above it, the gate's log and its
    strokes tell; without a log nothing is said.

    Raises
    ------
    UsageError : a gate's log without the gate's height, or without the strokes that it needs.
    """
    if gate is not None:
        _require_gate(tally, gate)
    if tally.status is Status.INVALID or tally.count is None:
        return tally
    if tally.counted_at == "below_blade" and gate is None:
        return _told(tally, Bags(bags=tuple(_of_pours(tally)), held=None))
    if gate is None or tally.set_up is None:
        return tally
    commands = commands_on_capture(gate.log, tally)
    if commands is None:
        note = Reason(code=Code.GATE_LOG_UNTIMED, text=Code.GATE_LOG_UNTIMED.meaning)
        return replace(tally, notes=(*tally.notes, note))
    doubts = [*_doubts_of_count(tally), *_outside(commands, tally)]
    commands = _from_first_frame(commands)
    if not commands.cycles:
        note = Reason(code=Code.GATE_NEVER_OPENED, text=Code.GATE_NEVER_OPENED.meaning)
        tally = replace(tally, notes=(*tally.notes, note))
    set_up = tally.set_up
    height = None if set_up is None else height_below_line("gate", outlet, set_up)
    if height is None or refuses_times(tally):
        note = Reason(code=Code.GATE_LOG_UNTIMED, text=Code.GATE_LOG_UNTIMED.meaning)
        return replace(tally, notes=(*tally.notes, note))
    pours = pours_of_tally(tally, outlet)
    end_s = tally.frames.end_s if tally.frames.end_s is not None else np.inf
    if tally.counted_at == "below_blade":
        takes_s = 0.0 if gate.strokes is None else float(gate.strokes.shutting.done_s.max())
        crossed = _crossed(tally, pours, height)
        bags = bags_below(crossed, commands, shut_takes_s=takes_s, end_s=end_s, doubts=doubts)
        return _told(tally, Bags(bags=bags, held=None))
    assert gate.strokes is not None
    found = bags_above(
        _coming(pours, height),
        commands,
        gate.strokes,
        end_s=end_s,
        lay_before=gate.lay_before,
        doubts=doubts,
    )
    return _told(tally, found)


def _require_gate(tally: Tally, gate: GateSeen) -> None:
    if tally.counted_at == "unknown":
        raise UsageError(
            "a gate's log, but the height of the blade is not known",
            where="--gate-log",
            allowed="gate.at_px; or gate.below_lip_mm with view.lip_px and view.scale_px_per_mm",
            remedy="set it in the outlet file",
        )
    if tally.counted_at == "above_blade" and gate.strokes is None:
        raise UsageError(
            "a gate's log without the gate's strokes, with the line above the blade",
            where="--gate-log",
            remedy="add --strokes FILE, which says how long after its command the gate has moved",
        )


def _told(tally: Tally, found: Bags) -> Tally:
    in_bag = max(sum(bag.content for bag in found.bags), 0)
    return replace(tally, bags=found.bags, in_bag=in_bag, held=found.held)


def bags_again(tally: Tally, pours: int) -> Tally:
    """Return a stored tally that was compared with a beam, its bags as doubtful as its count.

    `pours` is how many there were before. Where each was a bag, they are made anew; else the gate
    had a log, and what it told stands.
    """
    if tally.status is Status.INVALID or tally.count is None:
        return replace(tally, bags=(), in_bag=None, held=None)
    if tally.counted_at == "below_blade" and len(tally.bags) == pours:
        return with_bags(tally, Outlet(), None)
    doubts = tuple(_doubts_of_count(tally))
    if not doubts:
        return tally
    others = [
        [reason for reason in bag.reasons if reason.code is not Code.BAG_COUNT_DOUBTFUL]
        for bag in tally.bags
    ]
    bags = tuple(
        replace(bag, status=Status.DOUBTFUL, reasons=(*doubts, *own))
        for bag, own in zip(tally.bags, others, strict=True)
    )
    return replace(tally, bags=bags)


def _of_pours(tally: Tally) -> list[Bag]:
    """Return a bag for each pour: what the camera counted below the blade is in it."""
    by_pour: dict[int, list[Passage]] = {}
    for one in tally.passages:
        by_pour.setdefault(one.pour, []).append(one.passage)
    doubts = tuple(_doubts_of_count(tally))
    return [
        _of_pour(number, by_pour[pour], doubts)
        for number, pour in enumerate(sorted(by_pour), start=1)
    ]


def _of_pour(number: int, passages: list[Passage], doubts: tuple[Reason, ...]) -> Bag:
    found = result(passages, (), 0)
    reasons = tuple(dict.fromkeys((*found.reasons, *doubts)))
    return Bag(
        number=number,
        content=found.count,
        low=found.low,
        high=found.high,
        chance=math.prod(1.0 - p.doubt for p in passages),
        held_before=None,
        held_after=None,
        pinched=None,
        status=Status.DOUBTFUL if reasons else found.status,
        reasons=reasons,
    )


def commands_on_capture(log: GateLog, tally: Tally) -> Commands | None:
    """Return the commands on the capture clock; None where no clock can turn them into that.

    `tally` is that of the recording beside which they were given: it holds the clocks' fit.
    """
    clock = None
    if log.clock == "board":
        clock = _board_clock(tally)
        if clock is None:
            return None
    return on_capture(log, clock)


def on_capture(log: GateLog, clock: BoardClock | None) -> Commands:
    """Return the commands on the capture clock: as logged, or by the clock of the board."""
    at_s, sigma_s = np.array(log.at_s), log.sigma_s
    if clock is not None:
        at_s, own_s = clock.on_capture(at_s)
        sigma_s = float(np.hypot(sigma_s, own_s))
    return Commands(open_at_first=log.first_shuts, at_s=at_s, sigma_s=sigma_s)


def _board_clock(tally: Tally) -> BoardClock | None:
    made = tally.agreement
    if made is None:
        return None
    return board_clock(
        tally.source,
        offset_s=made.clock_offset_s,
        drift_ppm=made.clock_drift_ppm,
        offset_sigma_s=made.offset_sigma_s,
        drift_sigma_ppm=made.drift_sigma_ppm,
        epochs=len({one.pulse.epoch for one in tally.pulses}),
        said={reason.code for reason in (*tally.reasons, *tally.notes)},
    )


def _from_first_frame(commands: Commands) -> Commands:
    """Leave out the commands before the first frame: the gate stands as they left it."""
    gone = int((commands.at_s < 0).sum())
    return replace(
        commands,
        open_at_first=commands.open_at_first ^ bool(gone % 2),
        at_s=commands.at_s[gone:],
    )


def _outside(commands: Commands, tally: Tally) -> list[Reason]:
    end_s = tally.frames.end_s
    if end_s is None:
        return []
    inside = (commands.at_s > -_RECORDS_TO) & (commands.at_s < end_s + _RECORDS_TO)
    code = Code.GATE_LOG_OUTSIDE
    return [] if inside.any() else [Reason(code=code, text=code.meaning)]


def _doubts_of_count(tally: Tally) -> list[Reason]:
    """Return what makes every bag doubtful: the count, of all bags together, is not sure."""
    camera = tally.camera
    why = [reason.code.value for reason in tally.reasons]
    if camera.against:
        why.append(f"{camera.against} went back up")
    if tally.count != camera.count - camera.against:
        why.append("the camera alone counts otherwise")
    if not why and tally.status is Status.CLEAN:
        return []
    text = f"the count is doubtful ({', '.join(dict.fromkeys(why))})"
    return [Reason(code=Code.BAG_COUNT_DOUBTFUL, text=text)]


def _coming(pours: tuple[Pour, ...], height: Height) -> Coming:
    if not pours:
        return NONE_COMING
    return coming(
        [pour.poured for pour in pours],
        [pour.parts for pour in pours],
        height.below_line,
        sigma_height=height.sigma,
    )


def _crossed(tally: Tally, pours: tuple[Pour, ...], height: Height) -> Crossed:
    """Return when each passage was at the blade, which is above the line.

    What was held there fell from rest, so that its speed says little of its way: it took no
    longer than a fall from rest does.
    """
    blade_s: dict[int, tuple[float, float]] = {}
    for pour in pours:
        poured, height_s = (
            pour.poured,
            at_height(pour.poured, height.below_line, sigma_height=height.sigma),
        )
        way = -height.below_line + _CLEAR * height.sigma + float(poured.behind.max())
        a = poured.acceleration
        longest = np.sqrt(2.0 * way / a) if a > 0 else fall.time_to(poured.speed, 0.0, way)
        slack = _CLEAR * poured.sigma_s
        most = poured.t_s - height_s.centre_s
        sigma = np.minimum(_CLEAR * height_s.own_s, longest / 2.0)
        earliest = np.maximum(poured.t_s - most - sigma, poured.t_s - _FALLS_WITHIN * longest)
        for k, ident in enumerate(pour.passages):
            latest = min(float(poured.t_s[k] - most[k] + sigma[k]), float(poured.t_s[k]))
            blade_s[ident] = (float(earliest[k] - slack[k]), latest + float(slack[k]))
    own = [p.passage for p in tally.passages if p.passage.parts]
    times = [blade_s.get(p.id, (1e-9 * p.t_ns, 1e-9 * p.t_ns)) for p in own]
    return Crossed(
        earliest_s=np.array([t[0] for t in times]),
        latest_s=np.array([t[1] for t in times]),
        parts=np.array([_signed(p) for p in own], dtype=np.int64),
        doubt=np.array([p.doubt for p in own]),
    )


def _signed(passage: Passage) -> int:
    return passage.parts if passage.direction is Direction.WITH else -passage.parts
