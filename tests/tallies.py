"""Tallies made by hand, for tests of what is said and drawn of them."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from viscount.codes import Code
from viscount.simulate.truth import Truth
from viscount.tally import (
    AgreementTally,
    Assumption,
    BeamTally,
    CameraTally,
    CheckTally,
    CountedPairing,
    CountedPassage,
    CountedPulse,
    CounterCheck,
    FileMark,
    FrameTally,
    PourTally,
    Reason,
    SetUp,
    SpacingTally,
    Spread,
    Tally,
)
from viscount.values import Basis, Direction, Falls, Pairing, Pairs, Passage, Pulse, Status

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


SET_UP = SetUp(
    falls=Falls.DOWN,
    line_px=80.0,
    view_px=160.0,
    scale_px_per_mm=4.0,
    acceleration_px_s2=0.0,
    head_share=0.5,
    quiet_s=1.0,
)
"""That of the house scene."""

OFFSET_S = 5.25


def pulse(number: int, captured_s: float, lasts_s: float = 0.0053) -> CountedPulse:
    """Return a pulse that began at `captured_s`, on a board's clock that is ahead."""
    start_ns = round(1e9 * (captured_s + OFFSET_S))
    made = Pulse(id=number, epoch=0, start_ns=start_ns, end_ns=start_ns + round(1e9 * lasts_s))
    return CountedPulse(pulse=made, captured_ns=round(1e9 * captured_s))


def pairing(kind: Pairs, at_s: float, **changes: Any) -> CountedPairing:
    """Return a pairing of one part that reached the beam at `at_s`."""
    plain = {"passages": (), "pulses": (), "parts": 1, "doubt": 0.001, "t_ns": round(1e9 * at_s)}
    return CountedPairing(pour=1, pairing=Pairing(kind=kind, **{**plain, **changes}))


def paired(**changes: Any) -> Tally:
    """Return the tally of both counters: one agreed, two in one pulse, one each alone."""
    late = {"late_ns": 20_000}
    made = {
        "count": 5,
        "count_low": 5,
        "count_high": 5,
        "pours": (pour(0.48, 0.6, 5),),
        "set_up": SET_UP,
        "beam": BeamTally(
            parts=4,
            pulses=3,
            lost_edges=0,
            status=Status.CLEAN,
            reasons=(),
            log=FileMark(name="beam.csv", sha256="b" * 64),
        ),
        "agreement": AgreementTally(
            agreed=1,
            camera_only=1,
            beam_only=1,
            merged_pulses=1,
            split_pulses=0,
            ambiguous=0,
            clock_offset_s=OFFSET_S,
            arrival_offset_s=None,
            offset_sigma_s=0.0007,
            clock_drift_ppm=18.2,
            drift_sigma_ppm=2.4,
            both_missed=None,
        ),
        "pulses": (pulse(0, 0.5), pulse(1, 0.525, 0.009), pulse(2, 0.6)),
        "pairings": (
            pairing(Pairs.AGREED, 0.5, passages=(1,), pulses=(0,), **late),
            pairing(Pairs.MERGED_PULSE, 0.525, passages=(2, 3), pulses=(1,), parts=2, **late),
            pairing(Pairs.CAMERA_ONLY, 0.56, passages=(4,), why="the beam missed it"),
            pairing(Pairs.BEAM_ONLY, 0.6, pulses=(2,), why="the camera missed it"),
        ),
    }
    return tally((0.48, 0.505, 0.509, 0.54), **{**made, **changes})


def of_total(total: int = 3) -> Tally:
    """Return the tally of a camera beside a bare total."""
    beam = BeamTally(parts=total, pulses=total, lost_edges=0, status=Status.CLEAN, reasons=())
    return tally(beam=beam)


def checked() -> Tally:
    """Return a tally of three whose parts were counted by hand as four."""
    camera = CounterCheck(
        name="camera", counted=3, off=-1, rate=0.25, rate_low=0.0063, rate_high=0.8059
    )
    check = CheckTally(hand_count=4, counters=(camera,), target_rate=0.001, bags_needed=2995)
    return tally(check=check)


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
