"""Whether parts can be told apart, from what the frames show of them.

A part is separable where at least three frames show it whole (two, where the speed is known), in
two of them with two px of background about it, where its contrast is six sigma of the noise, and
where it does not keep pace with the readout. A frame counts that is delivered, new and whole.
"""

from collections.abc import Iterable, Sequence

from viscount.simulate.truth.values import FrameTruth, Seen, Separable

WHOLE = 3
WHOLE_WITH_SPEED = 2
CLEAR = 2
CLEAR_PX = 2.0
CONTRAST_SIGMA = 6.0
READOUT_RATIO = 0.6
VISIBLE = 0.95
"""A part of which less than this is to be seen is not seen whole."""


def by_part(frames: Iterable[FrameTruth]) -> dict[int, list[Seen]]:
    """Return each part's sightings in the frames that count."""
    found: dict[int, list[Seen]] = {}
    for frame in frames:
        if frame.new:
            for seen in frame.seen:
                found.setdefault(seen.part, []).append(seen)
    return found


def part_separable(sightings: Sequence[Seen], readout_ratio: float) -> Separable:
    """Return whether one part can be told apart; `readout_ratio` is its speed times line time."""
    whole = [s for s in sightings if s.whole and s.visible >= VISIBLE]
    clear = [s for s in whole if s.clear_px is None or s.clear_px >= CLEAR_PX]
    strong = [s for s in whole if (s.contrast_sigma or 0.0) >= CONTRAST_SIGMA]
    always = []
    if len(whole) < WHOLE_WITH_SPEED:
        always.append(f"{len(whole)} whole sightings")
    elif len(clear) < CLEAR:
        always.append(f"{len(clear)} sightings with {CLEAR_PX:g} px of background about it")
    if whole and len(strong) < min(len(whole), WHOLE):
        always.append(f"contrast below {CONTRAST_SIGMA:g} sigma")
    if abs(readout_ratio) > READOUT_RATIO:
        always.append(f"speed times line time {abs(readout_ratio):.2f}")
    bare = list(always)
    if WHOLE_WITH_SPEED <= len(whole) < WHOLE:
        bare.append(f"{len(whole)} whole sightings")
    return Separable(with_outlet=not always, bare=not bare, reasons=tuple(bare))


def pour_separable(parts: Iterable[tuple[int, Separable]], *, ends_seen: bool) -> Separable:
    """Return whether all parts that cross the line can be told apart.

    `ends_seen` says that the stream's front or tail is to be seen; without a known speed a
    stream that shows neither can be explained by several.
    """
    parts = list(parts)
    reasons = tuple(
        f"part {part}: {reason}" for part, separable in parts for reason in separable.reasons
    )
    bare = all(separable.bare for _, separable in parts)
    if not ends_seen:
        reasons = ("neither front nor tail of the stream is to be seen", *reasons)
    return Separable(
        with_outlet=all(separable.with_outlet for _, separable in parts),
        bare=bare and ends_seen,
        reasons=reasons,
    )
