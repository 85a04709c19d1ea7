"""What there is to say of two counters, in words, line by line."""

from collections.abc import Iterator, Sequence

from viscount.cli.fact import Fact
from viscount.codes import Code
from viscount.tally import AgreementTally, CheckTally, CounterCheck, Tally
from viscount.values import Pairing, Pairs

TOLD_HERE = frozenset(
    {Code.PULSES_OF_SEVERAL, Code.SEEN_BY_ONE, Code.BEAM_MISSED, Code.CAMERA_MISSED}
)
"""Notes that these lines already are."""
MOST_PLACES = 5
US, MS = 1e-6, 1e-3


def beam_facts(tally: Tally) -> Iterator[Fact]:
    """Yield what the beam saw and how both counters agree; nothing without a beam."""
    beam, agreement = tally.beam, tally.agreement
    if beam is None:
        return
    if agreement is None:
        yield Fact(label="beam", text=f"a total of {beam.parts}, and no more than that")
        return
    lost = f", {_counted(beam.lost_edges, 'edge')} lost" if beam.lost_edges else ""
    text = f"{_counted(beam.parts, 'part')} by itself, from {_counted(beam.pulses, 'pulse')}{lost}"
    yield Fact(label="beam", text=f"{text}; {beam.status}")
    pairings = [one.pairing for one in tally.pairings]
    yield Fact(label="both", text=_both(pairings))
    yield from _kind("merged", pairings, Pairs.MERGED_PULSE, "stood for several parts", "pulse")
    yield from _kind("split", pairings, Pairs.SPLIT_PULSE, "gave several pulses", "part")
    yield from _kind("camera only", pairings, Pairs.CAMERA_ONLY, "gave no pulse", "part")
    yield from _kind("beam only", pairings, Pairs.BEAM_ONLY, "gave no passage", "part")
    odd = [p for p in pairings if p.kind is Pairs.BEAM_ONLY and not p.parts]
    if odd:
        text = f"{_counted(len(odd), 'pulse')} of no part{_places(odd)}"
        yield Fact(label="beam only", text=text)
    yield Fact(label="clocks", text=_clocks(agreement))
    if tally.lamp:
        text = f"the lamp in view switched {_counted(len(tally.lamp), 'time')}: it sets the clocks"
        yield Fact(label="lamp", text=text)
    if agreement.both_missed is not None:
        text = f"about {agreement.both_missed:.2g} parts seen by neither, at least"
        yield Fact(label="neither", text=text)


def check_facts(check: CheckTally | None) -> Iterator[Fact]:
    """Yield how far each counter was off a count by hand."""
    if check is None:
        return
    yield Fact(label="by hand", text=_counted(check.hand_count, "part"))
    for one in check.counters:
        yield Fact(label="check", text=f"{one.name}: {_beside(one)}")
    rate = f"1 in {1 / check.target_rate:.0f}"
    text = (
        f"{check.bags_needed} more bags in a row must come out right to show, with 95 % "
        f"confidence, that fewer than {rate} are wrong"
    )
    yield Fact(label="check", text=text)


def _both(pairings: Sequence[Pairing]) -> str:
    both = sum(p.parts for p in pairings if p.passages and p.pulses)
    camera = sum(p.parts for p in pairings if not p.pulses)
    beam = sum(p.parts for p in pairings if not p.passages)
    text = f"{_counted(both, 'part')} seen by both, {camera} by the camera only, "
    return f"{text}{beam} by the beam only"


def _kind(
    label: str, pairings: Sequence[Pairing], kind: Pairs, said: str, what: str
) -> Iterator[Fact]:
    own = [p for p in pairings if p.kind is kind and p.parts]
    if kind is Pairs.MERGED_PULSE:
        if own:
            parts = sum(p.parts for p in own)
            text = f"{_counted(len(own), what)} {said}, {parts} in all{_places(own, sizes=True)}"
            yield Fact(label=label, text=text)
        return
    for excused in (False, True):
        some = [p for p in own if p.excused is excused]
        if some:
            because = " while the other counter was not watching" if excused else ""
            yield Fact(
                label=label, text=f"{_counted(len(some), what)} {said}{because}{_places(some)}"
            )


def _places(pairings: Sequence[Pairing], *, sizes: bool = False) -> str:
    timed = [(1e-9 * p.t_ns, p.parts) for p in pairings if p.t_ns is not None]
    if not timed:
        return ""
    shown = [f"{at:.3f} s" + (f" ({n})" if sizes else "") for at, n in timed[:MOST_PLACES]]
    more = f" and {len(timed) - MOST_PLACES} more" if len(timed) > MOST_PLACES else ""
    return f", at {', '.join(shown)}{more}"


def _clocks(agreement: AgreementTally) -> str:
    sigma = agreement.offset_sigma_s
    unsure = "" if sigma is None else f" ± {_short(sigma)}"
    if agreement.clock_offset_s is not None:
        ahead = "ahead" if agreement.clock_offset_s >= 0 else "behind"
        text = f"the beam's is {abs(agreement.clock_offset_s):.4f} s{unsure} {ahead}"
    elif agreement.arrival_offset_s is not None:
        text = f"a pulse shows {agreement.arrival_offset_s:.4f} s{unsure} after its line crossing"
    else:
        return "not brought together"
    drift, own = agreement.clock_drift_ppm, agreement.drift_sigma_ppm
    if drift is None:
        return text
    way = "fast" if drift >= 0 else "slow"
    return f"{text}, and runs {abs(drift):.0f} ± {own or 0.0:.0f} ppm {way}"


def _short(seconds: float) -> str:
    return f"{seconds / MS:.2g} ms" if seconds >= 1e-4 else f"{seconds / US:.0f} µs"


def _beside(one: CounterCheck) -> str:
    if one.counted is None or one.off is None:
        return "no count"
    off = "right"
    if one.off:
        off = f"{-one.off} missing" if one.off < 0 else f"{one.off} too many"
    if one.rate is None or one.rate_low is None or one.rate_high is None:
        return f"{one.counted}, {off}"
    limits = f"{100 * one.rate_low:.2g} to {100 * one.rate_high:.2g} %"
    return f"{one.counted}, {off}; {100 * one.rate:.2g} % of the parts wrong, truly {limits}"


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
