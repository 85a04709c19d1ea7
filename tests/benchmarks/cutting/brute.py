"""Cuts by brute force: one after the other, by sums of their own.

Takes nothing from the planner: it solves a t²/2 + u t = y for itself, and looks at every part of
the pour as the blade comes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

CHUNK = 50_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Where things stand below the line, and what is not known of it, in mm and s."""

    beam: float
    blade: float
    sigma_beam: float = 0.0
    sigma_blade: float = 0.0
    late: tuple[float, float] = (0.0, 0.0)
    tick: float = 0.0
    jitter: float = 0.0


def outcomes(
    pours: Sequence[Any],
    setting: Setting,
    reach_s: Any,
    shut_s: Any,
    *,
    number: int,
    back: int,
    delay_s: float,
    cuts: int,
    seed: int,
) -> dict[str, float]:
    """Return the shares of exact, short, over and pinched cuts.

    `pours` have what `viscount.stream.Poured` has, `number` + 1 parts or more.
    """
    rng = np.random.default_rng(seed)
    found = dict.fromkeys(("exact", "short", "over", "pinched"), 0)
    for start in range(0, cuts, CHUNK):
        size = min(CHUNK, cuts - start)
        for which, own in enumerate(rng.multinomial(size, [1 / len(pours)] * len(pours))):
            for key, many in _tried(
                pours[which], setting, reach_s, shut_s, number, back, delay_s, int(own), rng
            ).items():
                found[key] += many
    return {key: many / cuts for key, many in found.items()}


def _tried(
    pour: Any,
    setting: Setting,
    reach_s: Any,
    shut_s: Any,
    number: int,
    back: int,
    delay_s: float,
    cuts: int,
    rng: np.random.Generator,
) -> dict[str, int]:
    normal = rng.standard_normal
    shape = (cuts, len(pour.t_s))
    g = pour.acceleration + pour.sigma_acceleration * normal((cuts, 1))
    scale = 1 + pour.sigma_speed_share * normal((cuts, 1))
    u = pour.speed * scale + pour.sigma_speed * normal(shape)
    t = pour.t_s + pour.sigma_s * normal(shape)
    beam = setting.beam + setting.sigma_beam * normal((cuts, 1))
    blade = setting.blade + setting.sigma_blade * normal((cuts, 1))

    def falls(y: Any) -> Any:
        return (np.sqrt(u * u + 2 * g * y) - u) / g

    edges = t + falls(beam - pour.ahead - pour.sigma_end * normal(shape))
    heads = t + falls(blade - pour.ahead - pour.sigma_end * normal(shape))
    tails = t + falls(blade + pour.behind + pour.sigma_end * normal(shape))
    late = rng.uniform(*setting.late, cuts) + setting.tick * rng.random(cuts)
    command = edges[:, number - back - 1] + delay_s + late + setting.jitter * normal(cuts)
    stroke = rng.integers(len(reach_s), size=cuts)
    enters, closed = command + np.asarray(reach_s)[stroke], command + np.asarray(shut_s)[stroke]
    passed = tails <= enters[:, None]
    stopped = heads >= closed[:, None]
    pinched = (~passed & ~stopped).any(axis=1)
    count = passed.sum(axis=1)
    return {
        "exact": int((~pinched & (count == number)).sum()),
        "short": int((~pinched & (count < number)).sum()),
        "over": int((~pinched & (count > number)).sum()),
        "pinched": int(pinched.sum()),
    }
