"""Which stretches of a run with two counters are worth drawing, and where each event stands."""

from collections.abc import Sequence
from dataclasses import dataclass

from viscount.tally import Tally
from viscount.values import Pairing, Pairs

MOST_IN_PANEL = 64
"""So many pairings still stand apart in one panel."""
AROUND = 6
"""So many pairings are drawn before and after one in which the counters differ."""
MOST_PANELS = 10
AGREE = frozenset({Pairs.AGREED, Pairs.SPLIT_PULSE})
EDGE_SHARE = 0.02
LEAST_EDGE_S = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One pairing on the time axis of the beam, in s from the first frame.

    Attributes
    ----------
    due_s : when the parts of its passages should be at the beam, by their ids.
    pulses_s : (start, end) of its pulses.
    """

    pairing: Pairing
    due_s: tuple[float, ...]
    pulses_s: tuple[tuple[float, float], ...]

    @property
    def start_s(self) -> float:
        """The first of its moments."""
        return min([*self.due_s, *(start for start, _ in self.pulses_s)])

    @property
    def end_s(self) -> float:
        """The last of its moments."""
        return max([*self.due_s, *(end for _, end in self.pulses_s)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A stretch that is drawn as one panel."""

    title: str
    drawn: tuple[Drawn, ...]

    @property
    def span_s(self) -> tuple[float, float]:
        """From where to where it is drawn."""
        start, end = min(d.start_s for d in self.drawn), max(d.end_s for d in self.drawn)
        edge = max(EDGE_SHARE * (end - start), LEAST_EDGE_S)
        return start - edge, end + edge


def differs(pairing: Pairing) -> bool:
    """Return whether the counters differ at a pairing."""
    return pairing.kind not in AGREE and bool(pairing.parts or pairing.pulses)


def panels(tally: Tally) -> tuple[list[Panel], int]:
    """Return the panels of a run, and how many stretches with differences are left out.

    Each pour that is short enough is one panel; of a longer one, only where the counters differ.
    """
    at = {one.pulse.id: one.captured_ns for one in tally.pulses}
    lasts = {one.pulse.id: one.pulse.end_ns - one.pulse.start_ns for one in tally.pulses}
    line = {one.passage.id: one.passage.t_ns for one in tally.passages}
    found: list[Panel] = []
    numbers = sorted({one.pour for one in tally.pairings})
    for number in numbers:
        own = [
            made
            for one in tally.pairings
            if one.pour == number and (made := _drawn(one.pairing, at, lasts, line)) is not None
        ]
        own.sort(key=lambda d: d.start_s)
        name = f"pour {number}" if len(numbers) > 1 else ""
        found += _of_pour(own, name)
    odd = [panel for panel in found if any(differs(d.pairing) for d in panel.drawn)]
    kept = odd or found
    if len(found) <= MOST_PANELS:
        kept = found
    left_out = max(len(odd) - MOST_PANELS, 0) if len(found) > MOST_PANELS else 0
    return kept[:MOST_PANELS], left_out


def _of_pour(own: Sequence[Drawn], name: str) -> list[Panel]:
    if len(own) <= MOST_IN_PANEL:
        return [Panel(title=name, drawn=tuple(own))] if own else []
    spans: list[list[int]] = []
    for k, one in enumerate(own):
        if not differs(one.pairing):
            continue
        low, high = max(k - AROUND, 0), min(k + AROUND + 1, len(own))
        if spans and low <= spans[-1][1] and high - spans[-1][0] <= MOST_IN_PANEL:
            spans[-1][1] = high
        else:
            spans.append([low, high])
    if not spans:
        title = f"{name} the first {MOST_IN_PANEL} of {len(own)} pairings; none of them differs"
        return [Panel(title=title.strip(), drawn=tuple(own[:MOST_IN_PANEL]))]
    return [
        Panel(
            title=f"{name} pairings {low + 1} to {high} of {len(own)}".strip(),
            drawn=tuple(own[low:high]),
        )
        for low, high in spans
    ]


def _drawn(
    pairing: Pairing,
    at: dict[int, int | None],
    lasts: dict[int, int],
    line: dict[int, int],
) -> Drawn | None:
    """Return where a pairing stands; None for one that no clock places."""
    pulses = []
    for k in pairing.pulses:
        start = at.get(k)
        if start is None:
            return None
        pulses.append((1e-9 * start, 1e-9 * (start + lasts[k])))
    due: list[float] = []
    if pairing.passages and pairing.t_ns is not None:
        first = pairing.t_ns - (pairing.late_ns or 0)
        crossed = line[pairing.passages[0]]
        due = [1e-9 * (first + line[k] - crossed) for k in pairing.passages]
    if not due and not pulses:
        return None
    return Drawn(pairing=pairing, due_s=tuple(due), pulses_s=tuple(pulses))
