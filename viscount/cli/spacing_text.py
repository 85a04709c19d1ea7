"""The spacing of pours for people, as short tables; and for programs, as JSON."""

import json
from collections.abc import Iterator, Sequence

import numpy as np
from rich.table import Table
from rich.text import Text

from viscount.cli.screen import rendered, shown
from viscount.cli.uncertain import UNKNOWN, significant, with_uncertainty
from viscount.measure.feeder_faults import FeederFault
from viscount.measure.pour_spacing import At, AtHeight, PourSpacing
from viscount.measure.rhythm import in_words
from viscount.measure.spaced import Pooled, Run, Spaced
from viscount.report.spacing_json import COVERAGE, spacing_json
from viscount.tally import Spread
from viscount.values import Status

_PERCENTILES = ("min", "p05", "p50", "p95", "max")
MOST_FAULTS = 20
MOST_POURS = 12
"""So many pours are shown one by one; the JSON has all."""


def spacing_json_text(spaced: Spaced, *, laid_out: bool) -> str:
    """Return the answer as one JSON object, on one line or laid out over several."""
    return json.dumps(spacing_json(spaced), allow_nan=False, indent=2 if laid_out else None) + "\n"


def spacing_text(spaced: Spaced) -> str:
    """Return the answer for people."""
    pieces: list[Table | Text] = [Text(shown(_run(one))) for one in spaced.runs]
    for one in spaced.pours[:MOST_POURS]:
        pieces += [Text(), Text(shown(_headline(one, spaced)))]
        if len(one.pour.poured) > 1:
            pieces += [_pour_table(one)]
        pieces += [Text(shown(line)) for line in _said(one)]
    left = len(spaced.pours) - MOST_POURS
    if left > 0:
        pieces += [Text(), Text(f"{left} more pours are not shown one by one; --json has all.")]
    if any(p.distributions.pairs for p in spaced.pooled):
        pieces += [Text(), _pooled_table(spaced)]
        pieces += [Text(line) for line in _smallest(spaced.pooled)]
        pieces += [Text(), Text("± are 95 % uncertainties (1.96 standard uncertainties).")]
    return rendered(*pieces)


def _run(run: Run) -> str:
    tally = run.tally
    count = "no count" if tally.count is None else f"{tally.count} parts"
    kind = "stored tally of " if run.stored else ""
    head = f"{kind}{tally.source}: {count}, {tally.status.value}"
    if run.why:
        head += f"\n  {run.why}" if tally.status is not Status.CLEAN else f"; {run.why}"
    for unknown in run.unknown:
        head += f"\n  not known {unknown}"
    return head


def _headline(one: PourSpacing, spaced: Spaced) -> str:
    times = one.heights[0].neighbours.t_s
    parts = int(one.pour.parts.sum())
    of = "" if len(spaced.runs) == 1 else f" of run {one.run + 1}"
    took = 1e3 * float(times[-1] - times[0])
    text = f"Pour {one.pour.number}{of}, from {times[0]:.3f} s: {parts} part{'s' * (parts != 1)}"
    if len(times) > 1:
        text += f", first to last {took:.0f} ms"
    return f"{text}; {in_words(one.beat)}"


def _columns(unit: str) -> tuple[str, ...]:
    metres = "m/s" if unit == "mm" else "px/s"
    return ("parts", "at", metres, "interval, ms", f"spacing, {unit}", "gap, ms")


def _table(title: str, *columns: str, words: int) -> Table:
    table = Table(title=title, title_justify="left", box=None, padding=(0, 2, 0, 0))
    for number, name in enumerate(columns):
        table.add_column(name, justify="left" if number < words else "right")
    return table


def _pour_table(one: PourSpacing) -> Table:
    unit = one.pour.poured.unit
    table = _table("", *_columns(unit), words=2)
    table.title = None
    if any(own.at.below_lip is not None for own in one.heights):
        table.caption = "at: how many mm below the lip"
        at_lip = [own for own in one.heights if own.at.name == "lip"]
        if any(np.isnan(own.neighbours.gap_s).all() for own in at_lip):
            table.caption += "; no gap is told where tails are still in the outlet"
        table.caption_justify = "left"
    pairs = len(one.heights[0].neighbours)
    for k in dict.fromkeys((0, pairs // 2, pairs - 1)):
        name = f"{one.pour.last_part[k]}, {one.pour.first_part[k + 1]}"
        for own in _downwards(one.heights):
            table.add_row(name, *_row(own, k))
            name = ""
    return table


def _downwards(heights: Sequence[AtHeight]) -> list[AtHeight]:
    return sorted(heights, key=lambda own: own.at.height.below_line)


def _row(own: AtHeight, k: int) -> Iterator[str]:
    near = own.neighbours
    metre = 1e-3 if near.unit == "mm" else 1.0
    speed = float(near.speed[k + 1])
    yield _place(own.at)
    yield _pm(metre * speed, metre * float(near.sigma_speed[k + 1]))
    yield _pm(1e3 * float(near.interval_s[k]), 1e3 * float(near.sigma_interval_s[k]))
    yield _pm(float(near.spacing[k]), float(near.sigma_spacing[k]))
    yield _pm(1e3 * float(near.gap_s[k]), 1e3 * float(near.sigma_gap_s[k]))


def _place(at: At) -> str:
    """Return a height's name, and how many mm it is below the lip."""
    if at.name == "given":
        return f"{at.below_lip:g} mm"
    if at.name == "lip" or at.below_lip is None:
        return at.name
    return f"{at.name}, {at.below_lip:.4g}"


def _pm(value: float, sigma: float) -> str:
    return with_uncertainty(value, COVERAGE * sigma)


def _said(one: PourSpacing) -> Iterator[str]:
    fitted, found = one.profile, one.acceleration
    if fitted is not None:
        share = fitted.sigma_k_s / fitted.k_s
        first, last = (1e3 * fitted.interval_s(n) for n in (1, max(fitted.places - 1, 1)))
        whole = 1e3 * fitted.emptied_s
        stops = "" if not fitted.stops else f" without its {_many(fitted.stops, 'stop')}"
        yield (
            f"Profile at the {fitted.place}: {_many(fitted.places, 'place')} in "
            f"{_pm(whole, share * whole)} ms from rest{stops}; first interval "
            f"{_pm(first, share * first)} ms, last {_pm(last, share * last)} ms; residuals "
            f"{significant(1e3 * fitted.rms_s, 2)} ms rms over {_many(fitted.parts, 'part')}"
            + ("; the lip's place is told by the speeds" if fitted.lip_by == "speeds" else "")
        )
        if found is None:
            yield (
                f"Effective acceleration over pitch: "
                f"{_pm(fitted.a_per_pitch_s2, fitted.sigma_a_per_pitch_s2)} per s²"
            )
        else:
            by = "the part file's" if found.by == "part file" else "by the parts' speeds, a"
            yield (
                f"Effective acceleration: {_pm(1e-3 * found.mm_s2, 1e-3 * found.sigma_mm_s2)} "
                f"m/s² with {by} pitch of {_pm(found.pitch_mm, found.sigma_pitch_mm)} mm"
            )
    trend, unit = one.trend, one.pour.poured.unit
    if trend is not None:
        metre, name = (1e-3, "m/s") if unit == "mm" else (1.0, "px/s")
        yield (
            f"Along the pour, first quarter to last: interval "
            f"{significant(1e3 * trend.first_interval_s)} to "
            f"{significant(1e3 * trend.last_interval_s)} ms, speed "
            f"{significant(metre * trend.first_speed)} to "
            f"{significant(metre * trend.last_speed)} {name}"
        )
    yield from _faults(one.faults)


def _many(number: int, what: str) -> str:
    return f"{number} {what}{'s' * (number != 1)}"


def _faults(faults: Sequence[FeederFault]) -> Iterator[str]:
    for fault in faults[:MOST_FAULTS]:
        sure = f"{min(100 * fault.chance, 99.0):.0f} % sure"
        yield (
            f"{fault.kind.value.capitalize()} at part {fault.part}, {fault.t_s:.4f} s ({sure}): "
            f"{fault.text}"
        )
    if len(faults) > MOST_FAULTS:
        yield f"{len(faults) - MOST_FAULTS} more like these; --json has all"


def _pooled_table(spaced: Spaced) -> Table:
    pours = len(spaced.pours)
    title = "All pairs of neighbours" if pours == 1 else f"All pairs of {pours} pours together"
    table = _table(title, "what", "at", "pairs", "least", "5 %", "middle", "95 %", "most", words=2)
    names = (("interval, ms", "interval_ms"), ("spacing", "spacing"), ("gap, ms", "gap_ms"))
    for name, key in names:
        for number, one in enumerate(_below(spaced.pooled)):
            found = one.distributions
            spread: Spread | None = getattr(found, key)
            unit = f", {found.unit}" if key == "spacing" and found.unit else ""
            figures = [UNKNOWN] * len(_PERCENTILES)
            if spread is not None:
                figures = [significant(getattr(spread, field)) for field in _PERCENTILES]
            place = f"{found.at.below_lip:g} mm" if found.at.name == "given" else found.at.name
            label = "" if number else name + unit
            table.add_row(label, place, str(found.pairs), *figures)
    left = max((one.distributions.left_out for one in spaced.pooled), default=0)
    if left:
        table.caption = (
            f"{left} pairs beside a passage of several parts are left out: how close those are "
            "was not seen."
        )
        table.caption_justify = "left"
    return table


def _below(found: Sequence[Pooled]) -> list[Pooled]:
    return sorted(found, key=lambda one: one.distributions.at.height.below_line)


def _smallest(found: Sequence[Pooled]) -> Iterator[str]:
    for one in _below(found):
        gap = one.smallest_gap
        if gap is None:
            continue
        place = (
            f"{gap.at.below_lip:g} mm below the lip"
            if gap.at.name == "given"
            else (f"the {gap.at.name}")
        )
        doubt = f"; one of them is doubtful ({gap.doubt:.2g})" if gap.doubt > 0.05 else ""
        yield (
            f"Smallest gap at {place}: {_pm(1e3 * gap.gap_s, 1e3 * gap.sigma_gap_s)} ms, parts "
            f"{gap.part} and {gap.part + 1} of pour {gap.pour}, run {gap.run + 1}, at "
            f"{gap.t_s:.4f} s{doubt}"
        )
