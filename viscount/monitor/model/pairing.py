"""Pairing a pour that has just ended, by the same rules as the tally's."""

from collections.abc import Sequence

from viscount.agreement.result import CONFIDENCE, result
from viscount.beam.record import BeamRecord
from viscount.counters.beam_seen import BeamSeen
from viscount.counters.both import with_beam
from viscount.outlet import Outlet
from viscount.tally import CameraTally, CountedPassage, FrameTally, SetUp, Tally
from viscount.values import Direction, Passage, Pulse, Status, Watched

_EDGE_NS = 1_000_000_000


def paired_pour(
    passages: Sequence[Passage],
    pulses: Sequence[Pulse],
    set_up: SetUp,
    outlet: Outlet,
    *,
    rate_hz: float | None,
) -> Tally:
    """Return the tally of one pour by both counters, with its pairings.

    What there is to say of camera and beam as a whole is left to the run's own tally.
    """
    own = sorted(passages, key=lambda p: (p.t_ns, p.id))
    plain = result(own, (), 0)
    through = sum(p.parts for p in own if p.direction is Direction.WITH)
    against = sum(p.parts for p in own if p.direction is Direction.AGAINST)
    camera = CameraTally(count=through, against=against, status=Status.CLEAN, reasons=())
    end_s = 1e-9 * max((p.t_ns for p in own), default=0) + set_up.quiet_s
    tally = Tally(
        made_by="",
        source="",
        outlet=None,
        part=None,
        started_at=None,
        count=plain.count,
        count_low=plain.low,
        count_high=plain.high,
        confidence=CONFIDENCE,
        expected=None,
        counted_at="unknown",
        in_bag=None,
        held=None,
        status=plain.status,
        reasons=plain.reasons,
        assumed=(),
        notes=(),
        camera=camera,
        pours=(),
        passages=tuple(CountedPassage(pour=1, passage=p, speed_mm_s=None) for p in own),
        frames=FrameTally(
            read=max((p.last_frame for p in own), default=0) + 1,
            lost=0,
            repeated=0,
            damaged=0,
            rate_hz=rate_hz,
            blind=(),
            end_s=end_s,
        ),
        spacing=None,
        set_up=set_up,
    )
    epochs = sorted({pulse.epoch for pulse in pulses})
    watched = []
    for epoch in epochs:
        of_it = [pulse for pulse in pulses if pulse.epoch == epoch]
        start, end = min(p.start_ns for p in of_it), max(p.end_ns for p in of_it)
        span = Watched(epoch=epoch, start_ns=start - _EDGE_NS, end_ns=end + _EDGE_NS)
        watched.append(span)
    record = BeamRecord(
        watched=tuple(watched), edges=2 * len(pulses), pulses=len(pulses), end_known=True
    )
    return with_beam(tally, BeamSeen(pulses=tuple(pulses), record=record), outlet, set_up)
