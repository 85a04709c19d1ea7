"""Small event lists written out by hand."""

from collections.abc import Sequence

from benchmarks.pairing.lists import passage

from viscount.agreement.arrival import Arrival
from viscount.values import Mode, Pulse, Signature

SCREW = Signature(unit="ms", modes=(Mode(chance=1.0, darks=(5.33,), lights=(), sigma=0.1),))
WASHER = Signature(
    unit="ms",
    modes=(
        Mode(chance=0.7, darks=(1.67, 1.67), lights=(3.33,), sigma=0.05),
        Mode(chance=0.3, darks=(6.67,), lights=(), sigma=0.3),
    ),
)


def arrivals_at(ms: Sequence[float], *, first: int = 1, **changes: object) -> list[Arrival]:
    """Return one arrival for each time, numbered from `first`; passages may be changed."""
    return [
        Arrival(passage=passage(1e-3 * t, number, **changes))  # type: ignore[arg-type]
        for number, t in enumerate(ms, start=first)
    ]


def pulses_at(
    ms: Sequence[float],
    dark_ms: float | Sequence[float] = 5.33,
    *,
    offset_s: float = 2.5,
    epoch: int = 0,
    first: int = 0,
) -> list[Pulse]:
    """Return one pulse for each start, on a board's clock that is `offset_s` ahead."""
    darks = [dark_ms] * len(ms) if isinstance(dark_ms, int | float) else dark_ms
    return [
        Pulse(
            id=number,
            epoch=epoch,
            start_ns=round(1e6 * t + 1e9 * offset_s),
            end_ns=round(1e6 * (t + dark) + 1e9 * offset_s),
        )
        for number, (t, dark) in enumerate(zip(ms, darks, strict=True), start=first)
    ]
