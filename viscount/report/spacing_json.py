"""The spacing of pours as JSON (schema ``viscount.spacing/1``).

Every ``_u95_`` is an expanded uncertainty: 1.96 standard uncertainties, within which the value
lies with a chance of 95 % (JCGM 100, 6.2). What is not known is null. Of a length that is known in
px only, the key with ``_mm`` is null and the one with ``_px`` is not; and the other way round.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount._version import __version__
from viscount.measure.feeder_faults import FeederFault
from viscount.measure.pooled_spacing import Distributions, SmallestGap
from viscount.measure.pour_spacing import At, AtHeight, EffectiveAcceleration, PourSpacing
from viscount.measure.profile import Profile
from viscount.measure.rhythm import in_words
from viscount.measure.spaced import Run, Spaced, pooled
from viscount.report.figures import SECONDS, Json, rounded
from viscount.tally import Spread

SCHEMA: Final = "viscount.spacing/1"
COVERAGE: Final = 1.96
"""Standard uncertainties in an expanded one of 95 %, of a normal distribution."""
_FINE = 6


def spacing_json(spaced: Spaced) -> Json:
    """Return the answer as plain numbers, texts and lists."""
    return {
        "schema": SCHEMA,
        "made_by": f"viscount {__version__}",
        "confidence": 0.95,
        "runs": [_run(number, one) for number, one in enumerate(spaced.runs)],
        "pooled": [_pooled(p.distributions, p.smallest_gap) for p in spaced.pooled],
        "pours": [_pour(one) for one in spaced.pours],
    }


def _run(number: int, run: Run) -> Json:
    tally = run.tally
    return {
        "run": number,
        "source": tally.source,
        "stored": run.stored,
        "outlet": None if tally.outlet is None else tally.outlet.name,
        "part": None if tally.part is None else tally.part.name,
        "status": tally.status.value,
        "count": tally.count,
        "reasons": [{"code": r.code.code, "text": r.text} for r in tally.reasons],
        "pours_used": run.pours,
        "why": run.why,
        "unknown_heights": list(run.unknown),
    }


def _pooled(found: Distributions, gap: SmallestGap | None) -> Json:
    return {
        **_at(found.at),
        "pours": found.pours,
        "pairs": found.pairs,
        "pairs_left_out": found.left_out,
        "interval_ms": _spread(found.interval_ms),
        **_in_unit("spacing", _spread(found.spacing), found.unit),
        "gap_ms": _spread(found.gap_ms),
        **_in_unit("speed", _spread(found.speed), found.unit, per="_s"),
        "smallest_gap": _smallest(gap),
    }


def _at(at: At) -> Json:
    return {
        "at": at.name,
        "below_lip_mm": rounded(at.below_lip, _FINE),
        **_in_unit("below_line", rounded(at.height.below_line, _FINE), at.height.unit),
        **_in_unit("below_line_u95", rounded(COVERAGE * at.height.sigma, _FINE), at.height.unit),
    }


def _in_unit(name: str, value: object, unit: str | None, *, per: str = "") -> Json:
    """Return a length under its own key, and null under that of the other unit."""
    return {f"{name}_{one}{per}": value if one == unit else None for one in ("mm", "px")}


def _spread(spread: Spread | None) -> Json | None:
    if spread is None:
        return None
    names = ("min", "p05", "p50", "p95", "max")
    return {name: rounded(getattr(spread, name), _FINE) for name in names}


def _smallest(gap: SmallestGap | None) -> Json | None:
    if gap is None:
        return None
    return {
        "run": gap.run,
        "pour": gap.pour,
        "parts": [gap.part, gap.part + 1],
        "time_s": rounded(gap.t_s, SECONDS),
        "gap_ms": rounded(1e3 * gap.gap_s, _FINE),
        "gap_u95_ms": _u95_ms(gap.sigma_gap_s),
        "doubt": rounded(gap.doubt, _FINE),
    }


def _pour(one: PourSpacing) -> Json:
    poured = one.pour.poured
    sigma_a = COVERAGE * poured.sigma_acceleration
    times = one.heights[0].neighbours.t_s
    return {
        "run": one.run,
        "pour": one.pour.number,
        "parts": int(one.pour.parts.sum()),
        "passages": len(poured),
        "start_s": rounded(float(times[0]), SECONDS),
        "end_s": rounded(float(times[-1]), SECONDS),
        **_in_unit("acceleration", rounded(poured.acceleration, 3), poured.unit, per="_s2"),
        **_in_unit("acceleration_u95", rounded(sigma_a, 3), poured.unit, per="_s2"),
        "acceleration_is": one.pour.origin,
        "rhythm": {
            "kind": one.beat.rhythm.value,
            "scatter": rounded(one.beat.scatter, _FINE),
            "variation": rounded(one.beat.variation, _FINE),
            "text": in_words(one.beat),
        },
        "trend": _trend(one),
        "profile": _profile(one.profile),
        "effective_acceleration": _effective(one.acceleration),
        "faults": [_fault(fault) for fault in one.faults],
        "heights": [_own(one, k) for k in range(len(one.heights))],
        "each": _each(one),
    }


def _own(one: PourSpacing, k: int) -> Json:
    """Return the distributions of one pour at one of its heights."""
    wanted = one.heights[k].at
    for found in pooled([one]):
        if found.distributions.at == wanted:
            return _pooled(found.distributions, found.smallest_gap)
    raise AssertionError("each height of a pour is pooled")


def _trend(one: PourSpacing) -> Json | None:
    trend, unit = one.trend, one.pour.poured.unit
    if trend is None:
        return None
    return {
        "first_quarter_interval_ms": rounded(1e3 * trend.first_interval_s, _FINE),
        "last_quarter_interval_ms": rounded(1e3 * trend.last_interval_s, _FINE),
        **_in_unit("first_quarter_speed", rounded(trend.first_speed, 3), unit, per="_s"),
        **_in_unit("last_quarter_speed", rounded(trend.last_speed, 3), unit, per="_s"),
    }


def _profile(fitted: Profile | None) -> Json | None:
    if fitted is None:
        return None
    share = COVERAGE * fitted.sigma_k_s / fitted.k_s
    first_ms, last_ms = (1e3 * fitted.interval_s(n) for n in (1, max(fitted.places - 1, 1)))
    return {
        "law": "t = start + k sqrt(n)",
        "at": fitted.place,
        "lip_by": fitted.lip_by,
        "parts": fitted.parts,
        "places": fitted.places,
        "stops_taken_out": fitted.stops,
        "start_s": rounded(fitted.start_s, SECONDS),
        "start_u95_s": rounded(COVERAGE * fitted.sigma_start_s, SECONDS),
        "k_ms": rounded(1e3 * fitted.k_s, _FINE),
        "k_u95_ms": _u95_ms(fitted.sigma_k_s),
        "emptied_ms": rounded(1e3 * fitted.emptied_s, _FINE),
        "emptied_u95_ms": rounded(share * 1e3 * fitted.emptied_s, _FINE),
        "residual_rms_ms": rounded(1e3 * fitted.rms_s, _FINE),
        "first_interval_ms": rounded(first_ms, _FINE),
        "first_interval_u95_ms": rounded(share * first_ms, _FINE),
        "last_interval_ms": rounded(last_ms, _FINE),
        "last_interval_u95_ms": rounded(share * last_ms, _FINE),
        "acceleration_per_pitch_s2": rounded(fitted.a_per_pitch_s2, 3),
        "acceleration_per_pitch_u95_s2": rounded(COVERAGE * fitted.sigma_a_per_pitch_s2, 3),
    }


def _effective(found: EffectiveAcceleration | None) -> Json | None:
    if found is None:
        return None
    return {
        "mm_s2": rounded(found.mm_s2, 3),
        "u95_mm_s2": rounded(COVERAGE * found.sigma_mm_s2, 3),
        "pitch_mm": rounded(found.pitch_mm, _FINE),
        "pitch_u95_mm": rounded(COVERAGE * found.sigma_pitch_mm, _FINE),
        "pitch_by": found.by,
    }


def _fault(fault: FeederFault) -> Json:
    interval, expected = fault.interval_s, fault.expected_s
    return {
        "kind": fault.kind.value,
        "part": fault.part,
        "parts": fault.parts,
        "time_s": rounded(fault.t_s, SECONDS),
        "interval_ms": None if interval is None else rounded(1e3 * interval, _FINE),
        "expected_ms": None if expected is None else rounded(1e3 * expected, _FINE),
        "chance": rounded(fault.chance, 4),
        "text": fault.text,
    }


def _each(one: PourSpacing) -> list[Json]:
    """Return each passage; interval, spacing and gap are those to the one before it."""
    effective = one.acceleration_of_each
    return [
        {
            "part": int(one.pour.first_part[k]),
            "parts": int(one.pour.parts[k]),
            "passage": one.pour.passages[k],
            "doubt": rounded(float(one.pour.poured.doubt[k]), _FINE),
            "effective_acceleration_mm_s2": rounded(float(effective[k]), 3),
            "at": [_there(own, k) for own in one.heights],
        }
        for k in range(len(one.pour.poured))
    ]


def _there(own: AtHeight, k: int) -> Json:
    near, unit = own.neighbours, own.neighbours.unit

    def before(values: NDArray[np.float64], factor: float = 1.0) -> float | None:
        return None if k == 0 else rounded(factor * float(values[k - 1]), _FINE)

    return {
        "at": own.at.name,
        "below_lip_mm": rounded(own.at.below_lip, _FINE),
        "time_s": rounded(float(near.t_s[k]), SECONDS),
        **_in_unit("speed", rounded(float(near.speed[k]), 3), unit, per="_s"),
        **_in_unit("speed_u95", rounded(COVERAGE * float(near.sigma_speed[k]), 3), unit, per="_s"),
        "interval_ms": before(near.interval_s, 1e3),
        "interval_u95_ms": before(near.sigma_interval_s, 1e3 * COVERAGE),
        **_in_unit("spacing", before(near.spacing), unit),
        **_in_unit("spacing_u95", before(near.sigma_spacing, COVERAGE), unit),
        "gap_ms": before(near.gap_s, 1e3),
        "gap_u95_ms": before(near.sigma_gap_s, 1e3 * COVERAGE),
    }


def _u95_ms(sigma_s: float) -> float | None:
    return rounded(1e3 * COVERAGE * sigma_s, _FINE)
