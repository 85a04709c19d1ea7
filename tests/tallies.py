"""Tallies made by hand, for tests of what is said and drawn of them."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from viscount.codes import Code
from viscount.simulate.truth import Truth
from viscount.tally import (
    Assumption,
    CameraTally,
    CountedPassage,
    FileMark,
    FrameTally,
    PourTally,
    Reason,
    SpacingTally,
    Spread,
    Tally,
)
from viscount.values import Basis, Direction, Passage, Status

DOUBT = Reason(code=Code.FRAMES_LOST, text="gap 50.0 ms after frame 98")


def passage(number: int, t_s: float, **changes: Any) -> CountedPassage:
    """Return one part that crosses the line at `t_s` with 6000 px/s."""
    plain = Passage(
        id=number,
        t_ns=round(t_s * 1e9),
        sigma_ns=2500,
        direction=Direction.WITH,
        basis=Basis.INTERPOLATED,
        speed_px_s=6000.0,
        across_px=60.0,
        length_px=32.0,
        parts=1,
        doubt=0.0003,
        first_frame=10 * number,
        last_frame=10 * number + 5,
    )
    return CountedPassage(pour=1, passage=replace(plain, **changes), speed_mm_s=1500.0)


def tally(times_s: Sequence[float] = (0.5, 0.525, 0.55), **changes: Any) -> Tally:
    """Return a clean tally of parts at these times, with `changes` in its fields."""
    passages = tuple(passage(k, t) for k, t in enumerate(times_s, start=1))
    count = len(passages)
    plain = Tally(
        made_by="viscount 0.1.0",
        source="pour.mp4",
        outlet=FileMark(name="outlet.yaml", sha256="0" * 64),
        part=None,
        started_at=None,
        count=count,
        count_low=count,
        count_high=count,
        confidence=0.95,
        expected=None,
        counted_at="unknown",
        in_bag=None,
        held=None,
        status=Status.CLEAN,
        reasons=(),
        assumed=(
            Assumption(
                code=Code.CLOCK_ASSUMED, text=Code.CLOCK_ASSUMED.meaning, value=120.0, unit="Hz"
            ),
        ),
        notes=(),
        camera=CameraTally(count=count, against=0, status=Status.CLEAN, reasons=()),
        pours=(pour(0.5, 0.55, count),),
        passages=passages,
        frames=FrameTally(read=168, lost=0, repeated=0, damaged=0, rate_hz=120.0, blind=()),
        spacing=SpacingTally(n=2, spacing_mm=None, interval_ms=spread(12.7), gap_ms=spread(4.9)),
    )
    return replace(plain, **changes)


def doubtful(**changes: Any) -> Tally:
    """Return a tally that is in doubt."""
    doubt = (DOUBT,)
    camera = CameraTally(count=3, against=0, status=Status.DOUBTFUL, reasons=doubt)
    return tally(**{"status": Status.DOUBTFUL, "reasons": doubt, "camera": camera, **changes})


def invalid(**changes: Any) -> Tally:
    """Return a tally without a count."""
    return doubtful(**{"status": Status.INVALID, "count": None, **changes})


def pour(start_s: float, end_s: float, count: int) -> PourTally:
    """Return a clean pour."""
    return PourTally(
        start_s=start_s,
        end_s=end_s,
        count=count,
        count_low=count,
        count_high=count,
        status=Status.CLEAN,
        reasons=(),
    )


def spread(middle: float) -> Spread:
    """Return a spread about a value."""
    return Spread(min=middle - 2, p05=middle - 1.8, p50=middle, p95=middle + 1.8, max=middle + 2)


def true_tally(truth: Truth) -> Tally:
    """Return the tally of whoever knows the truth."""
    crossed = [part for part in truth.parts if part.line_t_ns is not None]
    passages = tuple(
        passage(
            k,
            (part.line_t_ns or 0) * 1e-9,
            speed_px_s=part.speed_px_s,
            across_px=part.across_px,
            length_px=part.length_px,
        )
        for k, part in enumerate(sorted(crossed, key=lambda p: p.line_t_ns or 0), start=1)
    )
    count = len(passages)
    return tally((), passages=passages, count=count, count_low=count, count_high=count)
