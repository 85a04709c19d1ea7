"""Made-up pours as two event lists: passages from a camera, pulses from a beam, and the truth.

No pictures: a part is a moment at the line, a speed, a length. The fall and the beam's law are
written out here on their own, so that nothing is borrowed from the code that is judged.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from viscount.agreement.arrival import Arrival
from viscount.values import Basis, Direction, Mode, Passage, Pulse, Signature

G = 9806.65
LINE_MM, BEAM_MM = 40.0, 60.0
LENGTH_MM = 8.0
SCALE = 4.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Lists:
    """Two lists and the truth about them.

    `parts_of_passage` and `parts_of_pulse` give the true parts by id, none where it is false.
    `shadowed` gives the parts that a pulse may stand for as well: the beam missed them in the
    dark of others, where nobody can tell a missed part from a hidden one. `darks_s` is from when
    to when each part alone would keep the beam dark, on the capture clock.
    """

    arrivals: list[Arrival]
    pulses: list[Pulse]
    parts: int
    parts_of_passage: dict[int, tuple[int, ...]]
    parts_of_pulse: dict[int, tuple[int, ...]]
    shadowed: dict[int, tuple[int, ...]]
    offset_s: float
    drift_ppm: float
    signature: Signature
    darks_s: list[tuple[float, float]]


def released(
    kind: str, count: int, rng: np.random.Generator, *, interval_ms: float = 40.0
) -> tuple[np.ndarray, np.ndarray]:
    """Return when parts leave the lip (s) and how fast (mm/s)."""
    n = np.arange(count)
    if kind == "column":
        pitch, acceleration = 8.1, 2350.0
        t = np.sqrt(2 * n * pitch / acceleration) + 1e-4 * rng.standard_normal(count)
        return np.sort(t), np.sqrt(2 * acceleration * n * pitch) + 20.0
    if kind == "columns":
        t = [
            1.5 * (k // 60) + 0.7 * (k // 60) ** 0.5 + np.sqrt(2 * (k % 60) * 8.1 / 2350.0)
            for k in n
        ]
        return np.array(t), np.sqrt(2 * 2350.0 * (n % 60) * 8.1) + 20.0
    if kind == "poisson":
        t = np.cumsum(rng.exponential(interval_ms * 1e-3, count))
        return t, 450.0 * (1 + 0.04 * rng.standard_normal(count))
    if kind == "regular":
        t = n * interval_ms * 1e-3 + 2e-5 * rng.standard_normal(count)
        return t, np.full(count, 450.0)
    raise ValueError(kind)


def lists(
    kind: str = "poisson",
    count: int = 200,
    *,
    seed: int = 0,
    interval_ms: float = 40.0,
    offset_s: float | None = None,
    drift_ppm: float | None = None,
    sigma_ms: float = 0.1,
    missed: float = 0.08,
    unseen: float = 0.0,
    false_passages: float = 0.01,
    false_pulses: float = 0.005,
    clear_ms: float = 0.6,
    height_error_mm: float = 0.0,
    height_sigma_mm: float = 0.0,
    blind: Sequence[tuple[float, float]] = (),
    unsure: float = 0.02,
) -> Lists:
    """Return the lists of one pour.

    `missed` and `unseen` are the chances that beam and camera miss a part; the false ones are
    shares of the parts. `unsure` is the share of true passages that the camera doubts a little.
    The beam is at `BEAM_MM` and a height error lower; whoever carries the passages to it does
    not know that.
    """
    rng = np.random.default_rng(seed)
    offset_s = float(rng.uniform(-10, 10)) if offset_s is None else offset_s
    drift_ppm = float(rng.uniform(-100, 100)) if drift_ppm is None else drift_ppm
    lip_s, lip_speed = released(kind, count, rng, interval_ms=interval_ms)
    line_s = lip_s + _fall(lip_speed, LINE_MM)
    beam = BEAM_MM + height_error_mm
    head_s = lip_s + _fall(lip_speed, beam - LENGTH_MM / 2)
    tail_s = lip_s + _fall(
        lip_speed, beam + LENGTH_MM / 2 * (1 + 0.02 * rng.standard_normal(count))
    )
    passages, of_passage = _passages(
        rng, line_s, _speed(lip_speed, LINE_MM), sigma_ms, unseen, false_passages, unsure, blind
    )
    pulses, of_pulse, shadowed = _pulses(
        rng, head_s, tail_s, missed, false_pulses, 1e-3 * clear_ms, offset_s, drift_ppm
    )
    stated = _fall(lip_speed, BEAM_MM - LENGTH_MM / 2) - _fall(lip_speed, LINE_MM)
    speed = _speed(lip_speed, BEAM_MM)
    arrivals = []
    for passage in passages:
        own = of_passage[passage.id]
        # A false passage is carried on as its neighbours are.
        k = own[0] if own else int(np.abs(line_s - passage.t_ns * 1e-9).argmin())
        arrivals.append(
            Arrival(
                passage=passage,
                transit_ns=round(1e9 * float(stated[k])),
                sigma_ns=20_000,
                common_ns=1e9 * height_sigma_mm / float(speed[k]),
                speed=float(speed[k]),
            )
        )
    mode = Mode(chance=1.0, darks=(LENGTH_MM,), lights=(), sigma=0.02 * LENGTH_MM)
    return Lists(
        arrivals=arrivals,
        pulses=pulses,
        parts=count,
        parts_of_passage=of_passage,
        parts_of_pulse=of_pulse,
        shadowed=shadowed,
        offset_s=offset_s,
        drift_ppm=drift_ppm,
        signature=Signature(unit="mm", modes=(mode,)),
        darks_s=list(zip(head_s.tolist(), tail_s.tolist(), strict=True)),
    )


def board_ns(t_s: np.ndarray | float, offset_s: float, drift_ppm: float) -> np.ndarray:
    """Turn capture times into the board's."""
    return np.rint(1e9 * (np.asarray(t_s) * (1 + drift_ppm * 1e-6) + offset_s)).astype(np.int64)


def _speed(lip_speed: np.ndarray, mm: float) -> np.ndarray:
    return np.sqrt(lip_speed**2 + 2 * G * mm)


def _fall(lip_speed: np.ndarray, mm: np.ndarray | float) -> np.ndarray:
    return (np.sqrt(lip_speed**2 + 2 * G * mm) - lip_speed) / G


def passage(t_s: float, number: int = 0, *, sigma_ms: float = 0.1, **changes: object) -> Passage:
    """Return one passage; anything may be changed."""
    plain = {
        "id": number,
        "t_ns": round(1e9 * t_s),
        "sigma_ns": round(1e6 * sigma_ms),
        "direction": Direction.WITH,
        "basis": Basis.INTERPOLATED,
        "speed_px_s": 4000.0,
        "across_px": 60.0,
        "length_px": LENGTH_MM * SCALE,
        "parts": 1,
        "doubt": 0.0,
        "first_frame": 0,
        "last_frame": 3,
    }
    return Passage(**(plain | changes))  # type: ignore[arg-type]


def _passages(
    rng: np.random.Generator,
    line_s: np.ndarray,
    speed: np.ndarray,
    sigma_ms: float,
    unseen: float,
    false: float,
    unsure: float,
    blind: Sequence[tuple[float, float]],
) -> tuple[list[Passage], dict[int, tuple[int, ...]]]:
    """Return what the camera says. Of what it doubts, as much is false as it says."""
    found: list[tuple[float, float, int, float, tuple[int, ...]]] = []
    for k, t in enumerate(line_s.tolist()):
        if rng.random() < unseen or any(a <= t < b for a, b in blind):
            continue
        doubt = 0.0 if rng.random() >= unsure else float(rng.uniform(0.0, 0.02))
        found.append((t, float(speed[k]), 1, doubt, (k,)))
    for _ in range(rng.poisson(false * line_s.size)):
        t = float(rng.uniform(line_s[0], line_s[-1]))
        # The camera gives the chance that it was a part; here it never was, for small chances.
        doubt = float(rng.uniform(0.02, 0.3))
        found.append((t, float(speed.mean()), 0, doubt, ()))
    found.sort()
    passages, of = [], {}
    for number, (t, v, parts, doubt, own) in enumerate(found, start=1):
        seen = t + 1e-3 * sigma_ms * float(rng.standard_normal())
        passages.append(
            passage(seen, number, sigma_ms=sigma_ms, parts=parts, doubt=doubt, speed_px_s=SCALE * v)
        )
        of[number] = own
    return passages, of


def _pulses(
    rng: np.random.Generator,
    head_s: np.ndarray,
    tail_s: np.ndarray,
    missed: float,
    false: float,
    clear_s: float,
    offset_s: float,
    drift_ppm: float,
) -> tuple[list[Pulse], dict[int, tuple[int, ...]], dict[int, tuple[int, ...]]]:
    """Return what the beam says: darks closer than `clear_s` are one."""
    every = [
        (float(a), float(b), (k,)) for k, (a, b) in enumerate(zip(head_s, tail_s, strict=True))
    ]
    kept = rng.random(len(every)) >= missed
    darks = [dark for dark, is_kept in zip(every, kept, strict=True) if is_kept]
    for _ in range(rng.poisson(false * head_s.size)):
        t = float(rng.uniform(head_s[0], head_s[-1]))
        darks.append((t, t + float(np.exp(rng.uniform(np.log(5e-5), np.log(3e-3)))), ()))
    darks.sort()
    merged: list[tuple[float, float, tuple[int, ...]]] = []
    for start, end, own in darks:
        if merged and start - merged[-1][1] < clear_s:
            last = merged[-1]
            merged[-1] = (last[0], max(last[1], end), last[2] + own)
        else:
            merged.append((start, end, own))
    missing = [dark for dark, is_kept in zip(every, kept, strict=True) if not is_kept]
    starts = board_ns(np.array([m[0] for m in merged]), offset_s, drift_ppm)
    ends = board_ns(np.array([m[1] for m in merged]), offset_s, drift_ppm)
    pulses = [
        Pulse(id=k, epoch=0, start_ns=int(a), end_ns=int(b))
        for k, (a, b) in enumerate(zip(starts, ends, strict=True))
    ]
    shadowed = {k: _shadowed(m, missing) for k, m in enumerate(merged)}
    return pulses, {k: m[2] for k, m in enumerate(merged)}, shadowed


Dark = tuple[float, float, tuple[int, ...]]


def _shadowed(pulse: Dark, missing: list[Dark]) -> tuple[int, ...]:
    """Return the missed parts that passed in a pulse's dark, but for a moment at either end."""
    start, end, own = pulse
    return tuple(
        dark[2][0] for dark in missing if own and dark[0] >= start - 1e-3 and dark[1] <= end + 1e-3
    )
