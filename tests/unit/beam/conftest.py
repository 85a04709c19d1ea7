"""Streams of pulses and edges for the beam's room."""

from collections.abc import Callable, Sequence

import pytest

from viscount.values import Edge, Pulse

PulseRow = Callable[..., list[Pulse]]
EdgeRow = Callable[..., list[Edge]]


@pytest.fixture
def pulse_row() -> PulseRow:
    """Return a function that makes pulses of (start, end) in ms."""

    def make(spans_ms: Sequence[tuple[float, float]], *, first_id: int = 0) -> list[Pulse]:
        return [
            Pulse(id=first_id + k, epoch=0, start_ns=round(a * 1e6), end_ns=round(b * 1e6))
            for k, (a, b) in enumerate(spans_ms)
        ]

    return make


@pytest.fixture
def edge_row() -> EdgeRow:
    """Return a function that makes edges, dark and light in turn, of times in us.

    The first is the state when logging began, light, at `begin_us`; numbers count from 0.
    """

    def make(
        times_us: Sequence[int],
        *,
        begin_us: int = 0,
        numbered: bool = True,
        boot: int | None = None,
    ) -> list[Edge]:
        return [
            Edge(device_t_ns=t * 1000, blocked=k % 2 == 1, seq=k if numbered else None, boot=boot)
            for k, t in enumerate([begin_us, *times_us])
        ]

    return make
