"""Edges of the beam to pulses: a push machine in memory that does not grow with the pour."""

from typing import Final

from viscount.beam.board_clock import BoardClock
from viscount.beam.record import BeamRecord
from viscount.beam.settling import Interruption, Settling
from viscount.values import Edge, Pulse, Unwatched, Watched

DEFAULT_MIN_PULSE_NS: Final = 100_000
"""Dark or light for less than this is a spike, where `beam.min_pulse_us` does not say otherwise.

In 0.1 ms a part at 2 m/s falls 0.2 mm: less than the thinnest washer (0.3 mm, M2), and more than
a comparator chatters. A width that is too small shows, as pulses that are no part; one that is
too large swallows parts, or the gaps between them, in silence. So the default errs on the small
side.
"""


class PulseMaker:
    """Makes pulses of edges, each when the beam has settled after it.

    The first edge is the state when logging began. A pulse whose start or end was not seen is
    `cut`. Edges are known to be missing where the board's numbers jump, or where two edges in a
    row say the same; the time from one to the other is then unwatched.

    Parameters
    ----------
    min_pulse_ns : see `DEFAULT_MIN_PULSE_NS`; 0 takes every change as it comes.
    """

    def __init__(self, *, min_pulse_ns: int = DEFAULT_MIN_PULSE_NS) -> None:
        if min_pulse_ns < 0:
            raise ValueError(f"min_pulse_ns is {min_pulse_ns}, and must not be negative")
        self._settling = Settling(min_pulse_ns)
        self._clock = BoardClock()
        self._last: Edge | None = None
        self._epoch = 0
        self._epoch_start_ns = 0
        self._watched: list[Watched] = []
        self._unwatched: list[Unwatched] = []
        self._edges = self._pulses = self._lost = self._restarts = self._repeats = 0
        self._first_blocked = False
        self._end_ns: int | None = None
        self._end_known = False

    def feed(self, edge: Edge) -> list[Pulse]:
        """Take the next edge; return the pulses that became final."""
        last = self._last
        if last is None:
            self._begin_log(edge)
            return []
        if edge.seq is not None and edge.seq == last.seq and edge == last:
            self._repeats += 1
            return []
        self._last = edge
        self._edges += 1
        restarted = self._clock.restarts_at(edge)
        if restarted:
            return self._after_restart(edge)
        # The first number of a log takes the one before it for known.
        before = edge.seq if last.seq is None else last.seq + 1
        lost = 0 if edge.seq is None or before is None else edge.seq - before
        if lost or edge.blocked == last.blocked:
            return self._after_loss(edge, lost, blocked_before=last.blocked)
        done = self._settling.change(self._clock.t_ns)
        return [self._pulse(dark) for dark in done] if done else []

    @property
    def now_ns(self) -> int:
        """The last edge's time on the board's clock, unwrapped; 0 before the first."""
        return self._clock.t_ns

    @property
    def epoch(self) -> int:
        """The epoch of the last edge."""
        return self._epoch

    def quiet_until(self, device_t_ns: int) -> list[Pulse]:
        """Hear that no edge came until then; return the pulses that are final by that.

        The same pulses come as without it, only sooner: what holds for so long is settled.
        `device_t_ns` is on the board's own clock, which may have wrapped since the last edge.
        """
        if self._last is None or self._end_ns is not None:
            return []
        t_ns = self._clock.at_end(device_t_ns)
        if t_ns is None:
            return []
        return [self._pulse(dark) for dark in self._settling.quiet(t_ns)]

    def finish(self, end_device_t_ns: int | None = None) -> list[Pulse]:
        """Take the end of the log; return the last pulses.

        `end_device_t_ns` is the time up to which the log is whole, on the board's clock; None
        where it does not say. A time before the last edge says nothing.
        """
        last = self._last
        if last is None or self._end_ns is not None:
            return []
        end_ns = None if end_device_t_ns is None else self._clock.at_end(end_device_t_ns)
        self._end_known = end_ns is not None
        self._end_ns = self._clock.t_ns if end_ns is None else end_ns
        return self._stop(self._end_ns)

    @property
    def record(self) -> BeamRecord:
        """What there is to say beside the pulses, up to now."""
        last = self._last
        end_ns = self._clock.t_ns if self._end_ns is None else self._end_ns
        watched = list(self._watched)
        if last is not None:
            watched.append(Watched(epoch=self._epoch, start_ns=self._epoch_start_ns, end_ns=end_ns))
        return BeamRecord(
            watched=tuple(watched),
            unwatched=tuple(self._unwatched),
            edges=self._edges,
            pulses=self._pulses,
            spikes=self._settling.spikes,
            unsettled=self._settling.unsettled,
            lost_edges=self._lost,
            restarts=self._restarts,
            wraps=self._clock.wraps,
            repeats=self._repeats,
            blocked_first=self._first_blocked,
            blocked_last=last is not None and last.blocked,
            end_known=self._end_known,
        )

    def _begin_log(self, edge: Edge) -> None:
        self._last = edge
        self._clock.restarts_at(edge)
        self._first_blocked = edge.blocked
        self._begin_epoch(self._clock.t_ns, blocked=edge.blocked)

    def _begin_epoch(self, start_ns: int, *, blocked: bool) -> None:
        self._epoch_start_ns = start_ns
        self._settling.begin(start_ns, blocked=blocked)

    def _after_loss(self, edge: Edge, lost: int, *, blocked_before: bool) -> list[Pulse]:
        """Go on behind missing edges: what was dark has ended, what ends here had begun."""
        since_ns, t_ns = self._settling.last_ns, self._clock.t_ns
        pulses = self._stop(since_ns, lost_edges=1)
        # Each end that is missing of a pulse at either side takes one of the edges.
        twice_whole = lost - blocked_before - (not edge.blocked)
        known = twice_whole >= 0 and twice_whole % 2 == 0
        self._lost += max(lost, 1)
        self._unwatched.append(
            Unwatched(
                epoch=self._epoch,
                start_ns=since_ns,
                end_ns=t_ns,
                edges_lost=lost if known else None,
                pulses_lost=twice_whole // 2 if known else None,
            )
        )
        if edge.blocked:
            self._settling.begin(t_ns, blocked=False)
            self._settling.change(t_ns)
        else:
            ends = Interruption(start_ns=t_ns, end_ns=t_ns, from_start=False)
            pulses.append(self._pulse(ends, lost_edges=1))
            self._settling.begin(t_ns, blocked=False)
        return pulses

    def _after_restart(self, edge: Edge) -> list[Pulse]:
        """Close the epoch with its last edge, and begin another.

        Where edges are numbered, the first of a run is number 1; a row with number 0, or a light
        one without a number, is the state at its beginning.
        """
        last_ns = self._settling.last_ns
        pulses = self._stop(last_ns)
        self._watched.append(
            Watched(epoch=self._epoch, start_ns=self._epoch_start_ns, end_ns=last_ns)
        )
        self._unwatched.append(
            Unwatched(epoch=self._epoch, start_ns=last_ns, end_ns=last_ns, edges_lost=None)
        )
        self._restarts += 1
        self._epoch += 1
        t_ns = self._clock.t_ns
        lost = max((edge.seq or 1) - 1, 0)
        if edge.seq == 0 or (edge.seq is None and not edge.blocked):
            self._begin_epoch(t_ns, blocked=edge.blocked)
        elif lost:
            self._begin_epoch(0 if t_ns < last_ns else t_ns, blocked=False)
            pulses += self._after_loss(edge, lost, blocked_before=edge.blocked == (lost % 2 == 1))
        else:
            self._begin_epoch(t_ns, blocked=not edge.blocked)
            self._settling.change(t_ns)
        return pulses

    def _stop(self, end_ns: int, *, lost_edges: int = 0) -> list[Pulse]:
        """Take the level as it stands; what is still dark is cut at `end_ns`."""
        done, still = self._settling.stop()
        pulses = [self._pulse(dark) for dark in done]
        if still is not None:
            still.end_ns = end_ns
            pulses.append(self._pulse(still, lost_edges=lost_edges, cut=True))
        return pulses

    def _pulse(self, dark: Interruption, *, lost_edges: int = 0, cut: bool = False) -> Pulse:
        self._pulses += 1
        return Pulse(
            id=self._pulses - 1,
            epoch=self._epoch,
            start_ns=dark.start_ns,
            end_ns=dark.end_ns,
            spikes=dark.spikes,
            lost_edges=lost_edges,
            cut=cut or not dark.from_start,
        )
