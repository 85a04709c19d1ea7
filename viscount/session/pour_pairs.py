"""Pours of a run that goes on, paired one by one, as ``count --beam`` would pair them."""

import logging
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from viscount.agreement.chances import CONFIDENCE, all_right
from viscount.agreement.result import result
from viscount.beam.record import BeamRecord
from viscount.codes import Code
from viscount.counters.beam_seen import BeamSeen
from viscount.counters.both import with_beam
from viscount.counters.pours import chances_of
from viscount.outlet import Outlet
from viscount.packing.paired import Paired, PourSeen
from viscount.tally import CameraTally, CountedPassage, FrameTally, SetUp, Tally
from viscount.values import Pairing, Pairs, Passage, Pulse, Watched

_log = logging.getLogger("viscount.session")

MOST_PARTS, MOST_POURS = 60, 6
"""So much of the good pours before is looked at beside a new one."""
_WRAP_NS = 2**32 * 1000
_OTHER_RUN_NS = 1_000_000_000
"""A board that restarted shows another time, by more than any line is late."""
_MARGIN_NS = 1_000_000_000
_OF_CHANCES = frozenset({Code.PAIRINGS_UNSURE, Code.PASSAGES_UNSURE})
"""What is said of all pours that are looked at; the chances of the last one are added up apart."""
_KINDS = {
    Pairs.AGREED: "agreed",
    Pairs.MERGED_PULSE: "merged_pulses",
    Pairs.SPLIT_PULSE: "split_pulses",
    Pairs.CAMERA_ONLY: "camera_only",
    Pairs.BEAM_ONLY: "beam_only",
    Pairs.AMBIGUOUS: "ambiguous",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Looks:
    """How the camera looks at the parts: what its passages rest on, and its rate."""

    set_up: SetUp
    rate_hz: float | None


class PourPairs:
    """Pairs the passages and pulses of pours; see `viscount.packing.paired.Pairs`.

    The clocks are found from the pour itself and from good ones shortly before: so a pour of a
    few parts, or of parts that come at equal intervals, is not brought together one part off.

    Parameters
    ----------
    outlet : where the beam stands, and what falls.

    Attributes
    ----------
    looks : asked how the camera looks at the parts by now; None as long as that is not known.
    """

    def __init__(self, outlet: Outlet, looks: Callable[[], Looks | None] = lambda: None) -> None:
        self.looks = looks
        self._outlet = outlet
        self._before: list[PourSeen] = []
        self._last: PourSeen | None = None

    def of(self, poured: PourSeen) -> Paired:
        """Return how the counters of a pour go together."""
        self._last = None
        looks = self.looks()
        own = [one for one in poured.passages if one.parts or one.doubt]
        if not own or not poured.pulses:
            seen = sum(abs(one.parts) for one in own)
            return Paired(camera_only=seen, beam_only=len(poured.pulses))
        if looks is None:
            return Paired(doubts=("nobody knows yet how the camera looks at the parts",))
        poured = self._after_those_before(replace(poured, passages=own))
        self._last = poured
        try:
            return _paired([*self._before, poured], self._outlet, looks)
        except Exception as error:
            # The bag is told as unsure and written down; a run that broke here would do neither.
            _log.exception("the pairing of a pour broke as follows")
            return Paired(doubts=(f"the pairing broke: {type(error).__name__}: {error}",))

    def keep(self) -> None:
        """Go by the last pour from now on: it was good."""
        if self._last is None:
            return
        self._before.append(self._last)
        self._last = None
        while len(self._before) > 1 and (
            len(self._before) > MOST_POURS
            or sum(len(one.pulses) for one in self._before) > MOST_PARTS
        ):
            del self._before[0]

    def forget(self) -> None:
        """Go by nothing from before."""
        self._before.clear()
        self._last = None

    def _after_those_before(self, poured: PourSeen) -> PourSeen:
        """Return the pour with the board's time going on from the pours before, if it does."""
        if not self._before:
            return poured
        behind_ns = poured.heard_ns - self._before[-1].heard_ns
        wraps = round(behind_ns / _WRAP_NS)
        if abs(behind_ns - wraps * _WRAP_NS) > _OTHER_RUN_NS:
            self.forget()
            return poured
        more_ns = wraps * _WRAP_NS
        moved = [
            replace(one, start_ns=one.start_ns + more_ns, end_ns=one.end_ns + more_ns)
            for one in poured.pulses
        ]
        return PourSeen(passages=poured.passages, pulses=moved, heard_ns=poured.heard_ns - more_ns)


def _paired(pours: Sequence[PourSeen], outlet: Outlet, looks: Looks) -> Paired:
    """Pair all of these pours as one run; tell of the last one.

    In those before it each pulse had its passage. Where one no longer has, the last pour goes with
    the beam in another way than they do, and that is told as its own.
    """
    passages = [one for pour in pours for one in pour.passages]
    origin_ns = min(one.t_ns for one in passages) - _MARGIN_NS
    moved = [replace(one, t_ns=one.t_ns - origin_ns, id=k) for k, one in enumerate(passages)]
    pulses = [one for pour in pours for one in pour.pulses]
    numbered = [replace(one, id=k) for k, one in enumerate(pulses)]
    tally = with_beam(_tally(moved, looks), _seen(numbered), outlet, looks.set_up)
    numbers = dict.fromkeys(_KINDS.values(), 0)
    for counted in tally.pairings:
        one = counted.pairing
        of_parts = one.kind in (Pairs.AGREED, Pairs.CAMERA_ONLY, Pairs.BEAM_ONLY)
        numbers[_KINDS[one.kind]] += max(abs(one.parts), 1) if of_parts else 1
    before = sum(len(pour.pulses) for pour in pours[:-1])
    numbers["agreed"] = max(numbers["agreed"] - before, 0)
    first = len(passages) - len(pours[-1].passages)
    own = [
        one.pairing
        for one in tally.pairings
        if any(k >= first for k in one.pairing.passages)
        or any(k >= before for k in one.pairing.pulses)
    ]
    return Paired(**numbers, doubts=tuple(_doubts(tally, own)))


def _doubts(tally: Tally, own: Sequence[Pairing]) -> Iterator[str]:
    """Yield what is against the pairing; small chances add up over this pour alone."""
    right = all_right(chances_of(one) for one in own)
    if right < CONFIDENCE:
        yield f"all pairings right with a chance of {100 * right:.0f} %"
    yield from (reason.text for reason in tally.reasons if reason.code not in _OF_CHANCES)


def _seen(pulses: Sequence[Pulse]) -> BeamSeen:
    watched = Watched(
        epoch=0,
        start_ns=pulses[0].start_ns - _MARGIN_NS,
        end_ns=pulses[-1].end_ns + _MARGIN_NS,
    )
    record = BeamRecord(
        watched=(watched,), edges=2 * len(pulses), pulses=len(pulses), end_known=True
    )
    return BeamSeen(pulses=tuple(pulses), record=record)


def _tally(passages: Sequence[Passage], looks: Looks) -> Tally:
    """Return the camera's tally of these passages; times from its first frame."""
    whole = result(passages, (), 0)
    end_s = 1e-9 * (max(one.t_ns for one in passages) + _MARGIN_NS)
    return Tally(
        made_by="",
        source="",
        outlet=None,
        part=None,
        started_at=None,
        count=whole.count,
        count_low=whole.low,
        count_high=whole.high,
        confidence=CONFIDENCE,
        expected=None,
        counted_at="unknown",
        in_bag=None,
        held=None,
        status=whole.status,
        reasons=whole.reasons,
        assumed=(),
        notes=(),
        camera=CameraTally(
            count=whole.count, against=0, status=whole.status, reasons=whole.reasons
        ),
        pours=(),
        passages=tuple(CountedPassage(pour=1, passage=one, speed_mm_s=None) for one in passages),
        frames=FrameTally(
            read=0,
            lost=0,
            repeated=0,
            damaged=0,
            rate_hz=looks.rate_hz,
            blind=(),
            end_s=end_s,
        ),
        spacing=None,
        set_up=looks.set_up,
    )
