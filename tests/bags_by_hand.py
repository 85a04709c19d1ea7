"""Parts that come to a blade, and gates, made by hand: the law of the fall written out."""

from collections.abc import Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from viscount.gate.coming import Coming
from viscount.gate.commands import Commands
from viscount.gate.strokes import Moves, Strokes

G = 9806.65
PASSES_S = 4e-3
"""From head to tail at the blade."""


def arriving(head_s: Sequence[float], **changes: Any) -> Coming:
    """Return parts of 6 mm whose heads come to the blade at these times, known to 0.1 ms."""
    head = np.asarray(head_s, dtype=np.float64)
    n = len(head)
    own: dict[str, Any] = {
        "head_s": head,
        "tail_s": head + PASSES_S,
        "own_s": np.full(n, 1e-4),
        "common_s": MappingProxyType({"height": np.full(n, 3e-4)}),
        "parts": np.ones(n, dtype=np.int64),
        "doubt": np.full(n, 1e-6),
        "length": np.full(n, 6.0),
        "acceleration": G,
        "speed": 1500.0,
        "line_to_blade_s": 0.02,
    }
    return Coming(**{**own, **changes})


def gate(*, many: int = 8, reach_s: float = 5e-3, shut_s: float = 9e-3) -> Strokes:
    """Return strokes that differ by 0.2 ms or so."""
    off = 1e-4 * np.linspace(-1, 1, many)
    none = np.full(many, np.nan)
    shutting = Moves(first_motion_s=none, begins_s=reach_s + off, done_s=shut_s + off)
    return Strokes(
        shutting=shutting,
        opening=Moves(first_motion_s=none[:1], begins_s=np.zeros(1), done_s=np.full(1, 6e-3)),
    )


def told(*at_s: float, open_at_first: bool = True, sigma_s: float = 1e-4) -> Commands:
    """Return commands at these times, in turn."""
    return Commands(open_at_first=open_at_first, at_s=np.array(at_s), sigma_s=sigma_s)
