"""What frequency a camera makes of light that flickers faster than its frames come."""

from collections.abc import Iterator

MAINS_LIGHT_HZ = (100.0, 120.0)
"""Lamps on the mains flicker at twice its frequency: 50 Hz or 60 Hz (common practice)."""


def alias_hz(light_hz: float, frames_hz: float) -> float:
    """Return the frequency at which light of `light_hz` seems to flicker in the frames.

    ``|f - k F|`` with the whole k that makes it least; 0 to half the frame rate.
    """
    return abs(light_hz - frames_hz * round(light_hz / frames_hz))


def mains_candidates(seen_hz: float, frames_hz: float, tolerance_hz: float) -> tuple[float, ...]:
    """Return which mains light would seem to flicker at `seen_hz`, within the tolerance."""
    return tuple(
        light_hz
        for light_hz in MAINS_LIGHT_HZ
        if abs(alias_hz(light_hz, frames_hz) - seen_hz) <= tolerance_hz
    )


def possible_hz(seen_hz: float, frames_hz: float, up_to_hz: float) -> Iterator[float]:
    """Yield all frequencies that seem to flicker at `seen_hz`: ``k F ± f``, rising."""
    k = 0
    while k * frames_hz - seen_hz <= up_to_hz:
        for light_hz in (k * frames_hz - seen_hz, k * frames_hz + seen_hz):
            if 0 < light_hz <= up_to_hz:
                yield light_hz
        k += 1
