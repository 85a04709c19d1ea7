"""What there is to say of a beam's edges beside the pulses they make."""

from collections.abc import Iterator
from dataclasses import dataclass

from viscount.beam.wording import counted
from viscount.codes import Code
from viscount.values import Level, Notice, Unwatched, Watched


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamRecord:
    """What a beam's board reported, up to now.

    Attributes
    ----------
    watched : one for each epoch, in order.
    unwatched : stretches in which edges are missing, in order.
    edges : edges that arrived, spikes among them; the first state is none.
    pulses : interruptions of which an edge arrived.
    spikes : dark and light spikes taken out.
    unsettled : stretches of chatter taken out that could have been a part or a gap.
    lost_edges : edges known to be missing; at least so many where `unwatched` has a None.
    restarts, wraps : how often the board, and its clock, started again.
    repeats : edges that arrived twice, and were taken once.
    blocked_first, blocked_last : whether the beam was blocked as the log began and ended.
    end_known : whether the log says up to when it is whole.
    """

    watched: tuple[Watched, ...] = ()
    unwatched: tuple[Unwatched, ...] = ()
    edges: int = 0
    pulses: int = 0
    spikes: int = 0
    unsettled: int = 0
    lost_edges: int = 0
    restarts: int = 0
    wraps: int = 0
    repeats: int = 0
    blocked_first: bool = False
    blocked_last: bool = False
    end_known: bool = False

    @property
    def pulses_lost(self) -> int:
        """Interruptions known from the board's numbers, of which no edge arrived."""
        return sum(gap.pulses_lost or 0 for gap in self.unwatched)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What the user must know of the edges."""
        said = (*self._on_losses(), *self._on_ends(), *self._on_chatter())
        return tuple(Notice(level=level, code=code, text=text) for level, code, text in said)

    def _on_losses(self) -> Iterator[tuple[Level, Code, str]]:
        if self.lost_edges:
            unknown = any(g.start_ns < g.end_ns and g.edges_lost is None for g in self.unwatched)
            text = f"{'at least ' if unknown else ''}{counted(self.lost_edges, 'edge')} lost"
            if self.pulses_lost:
                text += f", {self.pulses_lost} times unknown"
            yield Level.DOUBT, Code.BEAM_EDGES_LOST, text
        if self.restarts:
            times = "" if self.restarts == 1 else f" {self.restarts} times"
            yield Level.DOUBT, Code.BEAM_RESTARTED, f"board restarted{times}, gap not covered"

    def _on_ends(self) -> Iterator[tuple[Level, Code, str]]:
        if self.watched and not self.end_known:
            text = (
                f"the log does not say up to when it is whole; the beam is blind after its last "
                f"edge, at {self.watched[-1].end_ns * 1e-9:.6f} s on the board's clock"
            )
            yield Level.DOUBT, Code.BEAM_END_UNKNOWN, text
        ends = [
            f"as the log {verb}"
            for verb, blocked in (("begins", self.blocked_first), ("ends", self.blocked_last))
            if blocked
        ]
        if ends:
            text = f"the beam is blocked {' and '.join(ends)}: by a part, or by what lies in it"
            yield Level.INFO, Code.BEAM_BLOCKED_AT_ENDS, text

    def _on_chatter(self) -> Iterator[tuple[Level, Code, str]]:
        if self.unsettled:
            text = f"the beam flickered {counted(self.unsettled, 'time')} for as long as a part"
            yield Level.DOUBT, Code.BEAM_CHATTERS, text
