"""What there is to say of a tally, in words, line by line."""

from collections.abc import Iterable, Iterator

from viscount.cli.bag_facts import bag_facts
from viscount.cli.beam_facts import TOLD_HERE, beam_facts, check_facts
from viscount.cli.fact import Fact
from viscount.codes import Code
from viscount.tally import Assumption, FrameTally, PourTally, Reason, SpacingTally, Spread, Tally
from viscount.values import Status

__all__ = ["Fact", "facts", "status_words"]

_MOST_BLIND = 3


def status_words(tally: Tally) -> str:
    """Return the status, with what it means for the reader."""
    return {
        Status.CLEAN: "clean",
        Status.DOUBTFUL: "doubtful: look before you trust it",
        Status.INVALID: "invalid: this recording cannot carry a count",
    }[tally.status]


def facts(tally: Tally) -> Iterator[Fact]:
    """Yield what stands beside the count, the most important first."""
    # How many were too faint to be seen no count can bound.
    unseen = any(reason.code is Code.NOTHING_SEEN for reason in tally.reasons)
    if tally.count is not None and not unseen:
        yield Fact(label="range", text=_range(tally.count_low, tally.count_high, tally.confidence))
    if tally.expected is not None:
        yield Fact(label="expected", text=_expected(tally, tally.expected))
    yield from _said("why", tally.reasons)
    yield Fact(label="seen", text=_seen(tally))
    yield from beam_facts(tally)
    yield from check_facts(tally.check)
    yield from bag_facts(tally)
    if len(tally.pours) > 1:
        for number, pour in enumerate(tally.pours, start=1):
            yield Fact(label="pours", text=_pour(number, pour))
    yield from _frames(tally.frames)
    if tally.spacing is not None:
        yield from _spacing(tally.spacing)
    told = TOLD_HERE if tally.agreement is not None else frozenset()
    yield from _said("note", (note for note in tally.notes if note.code not in told))
    yield from _assumed(tally.assumed, has_outlet=tally.outlet is not None)
    yield Fact(label="source", text=tally.source)
    log = None if tally.beam is None else tally.beam.log
    for label, mark in (("outlet", tally.outlet), ("part", tally.part), ("beam log", log)):
        if mark is not None:
            yield Fact(label=label, text=mark.name)


def _range(low: int, high: int, confidence: float) -> str:
    return f"{low} to {high} ({100 * confidence:g} % confidence)"


def _expected(tally: Tally, expected: int) -> str:
    if tally.as_expected is None or tally.count is None:
        return f"{expected}; whether it is that many is not sure"
    if tally.as_expected:
        return f"{expected}, as counted"
    missing = expected - tally.count
    off = f"{missing} missing" if missing > 0 else f"{-missing} too many"
    return f"{expected}; {off}"


def _said(label: str, reasons: Iterable[Reason]) -> Iterator[Fact]:
    for reason in reasons:
        remedy = reason.code.remedy
        yield Fact(label=label, text=reason.text, advice="" if remedy in reason.text else remedy)


def _seen(tally: Tally) -> str:
    camera = tally.camera
    text = f"{camera.count} with the fall, {camera.against} against it"
    if tally.beam is not None:
        text = f"{text}, by the camera; {camera.status}"
    nothing = tally.count is None or camera.status is Status.INVALID
    return f"{text}; not a result" if nothing else text


def _pour(number: int, pour: PourTally) -> str:
    count = "no count" if pour.count is None else f"{pour.count} parts"
    span = f"{pour.start_s:.3f} to {pour.end_s:.3f} s"
    return f"{number}: {count}, {pour.count_low} to {pour.count_high}, {pour.status}; {span}"


def _frames(frames: FrameTally) -> Iterator[Fact]:
    rate = "" if frames.rate_hz is None else f" at {frames.rate_hz:.5g} frames a second"
    losses = {"lost": frames.lost, "damaged": frames.damaged, "repeated": frames.repeated}
    some = ", ".join(f"{number} {what}" for what, number in losses.items() if number)
    text = f"{frames.read} read{rate}; {some or 'none lost, damaged or repeated'}"
    yield Fact(label="frames", text=text)
    if frames.blind:
        spans = [f"{start:.3f} to {end:.3f} s" for start, end in frames.blind]
        more = f" and {len(spans) - _MOST_BLIND} more" if len(spans) > _MOST_BLIND else ""
        where = ", ".join(spans[:_MOST_BLIND]) + more
        yield Fact(label="blind", text=f"for {frames.blind_s:.3f} s in all: {where}")


def _spacing(spacing: SpacingTally) -> Iterator[Fact]:
    quantities = (
        ("spacing", spacing.spacing_mm, "mm", "centre to centre along the fall"),
        ("interval", spacing.interval_ms, "ms", "from part to part at the line"),
        ("gap", spacing.gap_ms, "ms", "clear time between two parts"),
    )
    for label, spread, unit, meaning in quantities:
        if spread is not None:
            yield Fact(label=label, text=f"{_spread(spread, unit)}; {meaning}")


def _spread(spread: Spread, unit: str) -> str:
    # A minus zero would raise questions.
    low, middle, high = (round(v, 1) + 0.0 for v in (spread.min, spread.p50, spread.max))
    return f"{middle:.1f} {unit} in the middle, {low:.1f} to {high:.1f}"


def _assumed(assumed: Iterable[Assumption], *, has_outlet: bool) -> Iterator[Fact]:
    made = list(assumed)
    for one in made:
        last = one is made[-1] and not has_outlet
        advice = "state it in an outlet file; `viscount outlet new` writes one to fill in"
        yield Fact(label="assumed", text=one.text + _value(one), advice=advice if last else "")


def _value(one: Assumption) -> str:
    value, unit = one.value, one.unit or ""
    if value is None or f" {value} " in f" {one.text} ":
        return ""
    return f": {value if isinstance(value, str) else f'{value:.5g}'} {unit}".rstrip()
