"""Many stored runs of one machine and one part together: what single runs are too short to tell.

How often each counter errs comes from two sources. Where both watched, the parts that one counter
saw are a sample on which to try the other. And check pours, counted by hand, try each counter
against the truth, which finds what fools both alike.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from viscount.agreement.pooled import (
    CONFIDENCE,
    LEAST_POOLED,
    Estimate,
    both_missed,
    error_limits,
    lincoln_petersen,
    more_needed,
)
from viscount.codes import Code
from viscount.errors import UsageError
from viscount.values import Pairing, Status

UNPAIRED = frozenset(
    {
        Code.CLOCKS_AMBIGUOUS,
        Code.CLOCKS_UNFITTED,
        Code.COUNTERS_DISAGREE_IN_TIME,
        Code.LAMP_DISAGREES,
        Code.CAMERA_ALONE,
        Code.BEAM_ALONE,
    }
)
"""A run with one of these says nothing of what one counter saw and the other did not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredRun:
    """One stored run, as far as it can be pooled.

    Attributes
    ----------
    name : of its file.
    outlet, part : SHA-256 of the files that it was made with; None where there was none.
    settings : of its command line, that stood over the outlet file.
    mark : the same for two files of one run, for no others.
    count : of all counters; None where invalid.
    reasons : why the count is not clean.
    pairings : None where there was no beam log beside it.
    hand_count : of a check pour.
    alone : what each counter came to alone, by "camera" and "beam"; None without a count.
    """

    name: str
    outlet: str | None
    part: str | None
    settings: tuple[str, ...]
    mark: str
    count: int | None
    status: Status
    reasons: frozenset[Code]
    pairings: tuple[Pairing, ...] | None
    hand_count: int | None
    alone: tuple[tuple[str, int | None], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorRate:
    """So many errors in so many trials, and the exact limits of their rate (95 %).

    `rate` and its limits are None without a trial.
    """

    errors: int
    trials: int
    rate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One counter in check pours: parts wrong at the least, and bags wrong."""

    name: str
    parts: ErrorRate
    bags: ErrorRate


@dataclass(frozen=True, slots=True, kw_only=True)
class Caught:
    """Parts by who saw them, where both counters were watching.

    Attributes
    ----------
    camera, beam : parts that the one missed, of those that the other saw.
    petersen, missed : what neither saw, by Lincoln and Petersen, and by Chapman with its standard
        uncertainty; lower bounds. None below `LEAST_POOLED` parts.
    """

    both: int
    camera_only: int
    beam_only: int
    camera: ErrorRate
    beam: ErrorRate
    petersen: float | None
    missed: Estimate | None

    @property
    def parts(self) -> int:
        """All of them."""
        return self.both + self.camera_only + self.beam_only


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """What runs come to together.

    Attributes
    ----------
    runs : how many there are.
    unpaired : names of those that tell nothing of who saw what.
    checked : each counter in the check pours among them; none where there was no such pour.
    target_rate : wrong bags for each bag that are wanted at most.
    bags_needed : so many more bags must come out right to show less than that, by the result of
        both counters (of the camera, where there was no beam).
    """

    runs: int
    unpaired: tuple[str, ...]
    caught: Caught
    checked: tuple[Checked, ...]
    target_rate: float
    bags_needed: int


def pooled(runs: Sequence[StoredRun], target_rate: float) -> Pool:
    """Return what runs come to together.

    Parameters
    ----------
    runs : one or more, all of the same outlet and part.
    target_rate : of wrong bags, more than 0 and less than 1.

    Raises
    ------
    UsageError : for runs of several machines or parts, or the same run twice.
    """
    _require_alike(runs)
    paired = [run for run in runs if run.pairings and not run.reasons & UNPAIRED]
    checked = _checked(runs)
    bags = checked[-1].bags if checked else _rate(0, 0)
    return Pool(
        runs=len(runs),
        unpaired=tuple(run.name for run in runs if run not in paired),
        caught=_caught([pairing for run in paired for pairing in run.pairings or ()]),
        checked=checked,
        target_rate=target_rate,
        bags_needed=more_needed(target_rate, bags.errors, bags.trials),
    )


def _require_alike(runs: Sequence[StoredRun]) -> None:
    first = runs[0]
    seen: dict[str, str] = {}
    for run in runs:
        if run.outlet is None:
            raise UsageError(
                "a count without an outlet file",
                where=run.name,
                allowed="counts of one machine, which its outlet file tells",
                remedy="count again with --outlet",
            )
        if run.mark in seen:
            raise UsageError(
                f"the same run as {seen[run.mark]}",
                where=run.name,
                allowed="each run once",
                remedy="leave one of them out",
            )
        seen[run.mark] = run.name
        for key, own, other in (
            ("outlet file", run.outlet, first.outlet),
            ("part file", run.part, first.part),
            ("settings", run.settings, first.settings),
        ):
            if own != other:
                raise UsageError(
                    f"another {key} than that of {first.name}: {_short(own)}",
                    where=run.name,
                    allowed=_short(other),
                    remedy="pool runs of one machine and one part only",
                )


def _short(value: str | tuple[str, ...] | None) -> str:
    if isinstance(value, tuple):
        return ", ".join(value) or "none"
    return "none" if value is None else f"sha256 {value[:12]}"


def _caught(pairings: Sequence[Pairing]) -> Caught:
    both = camera = beam = 0
    for pairing in pairings:
        if pairing.parts <= 0 or pairing.excused:
            continue
        if pairing.passages and pairing.pulses:
            both += pairing.parts
        elif pairing.passages:
            camera += pairing.parts
        else:
            beam += pairing.parts
    found = both + camera + beam
    missed = both_missed(both, camera, beam)
    petersen = None
    if missed is not None and both:
        petersen = max(lincoln_petersen(both + camera, both + beam, both) - found, 0.0)
    return Caught(
        both=both,
        camera_only=camera,
        beam_only=beam,
        camera=_rate(beam, both + beam),
        beam=_rate(camera, both + camera),
        petersen=petersen,
        missed=missed,
    )


def _checked(runs: Sequence[StoredRun]) -> tuple[Checked, ...]:
    """Return each counter in the check pours; the result of all counters is the last."""
    pours = [run for run in runs if run.hand_count is not None]
    names = [name for name in ("camera", "beam") if any(name in dict(r.alone) for r in pours)]
    made = []
    for name in [*names, "both"] if "beam" in names else names:
        off, parts, wrong, bags = 0, 0, 0, 0
        for run in pours:
            alone = {**dict(run.alone), "both": run.count}
            true, counted = run.hand_count or 0, alone.get(name)
            if name not in alone:
                continue
            bags += 1
            wrong += counted != true
            if counted is not None:
                off += abs(counted - true)
                parts += max(true, abs(counted - true))
        made.append(Checked(name=name, parts=_rate(off, parts), bags=_rate(wrong, bags)))
    return tuple(made)


def _rate(errors: int, trials: int) -> ErrorRate:
    if not trials:
        return ErrorRate(errors=errors, trials=0, rate=None, low=None, high=None)
    limits = error_limits(errors, trials)
    rate = errors / trials
    return ErrorRate(errors=errors, trials=trials, rate=rate, low=limits.low, high=limits.high)


__all__ = [
    "CONFIDENCE",
    "LEAST_POOLED",
    "Caught",
    "Checked",
    "ErrorRate",
    "Pool",
    "StoredRun",
    "pooled",
]
