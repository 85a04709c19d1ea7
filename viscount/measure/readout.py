"""What a rolling shutter makes of moving parts and of flickering light."""

KEEPS_PACE = 0.6
"""Speed times line time above which a part nearly keeps pace with the readout."""


def stretch(speed_px_s: float, line_time_s: float) -> float:
    """Return how many times longer a part looks that moves along the readout.

    ``1 / (1 - v t)``: while the readout goes down the part, the part goes on (source: the line
    that meets the part's far end is read ``n t`` later, ``n = L + v n t``). Negative speeds go
    against the readout. Infinite where the part keeps pace.
    """
    pace = speed_px_s * line_time_s
    return float("inf") if pace >= 1.0 else 1.0 / (1.0 - pace)


def lines_per_cycle(light_hz: float, line_time_s: float) -> float:
    """Return the pitch of the bands that flickering light leaves, in lines: ``1 / (f t)``."""
    return 1.0 / (light_hz * line_time_s)


def light_hz(lines: float, line_time_s: float) -> float:
    """Return the frequency of light whose bands repeat after so many lines: ``1 / (n t)``."""
    return 1.0 / (lines * line_time_s)
