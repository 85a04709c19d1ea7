"""Whether parts can be told apart, from what the frames show of them.

A part is separable where at least three frames show it whole (two, where the speed is known), in
two of them with two px of background about it, where its contrast is six sigma of the noise, and
where it does not keep pace with the readout. A frame counts that is delivered, new and whole.

What goes wrong counts by what it takes from these sightings, and by nothing else. Parts that
bounce, stick or are stopped by the gate, a camera that shakes, hands, insects and dust leave a
pour separable as long as they hide nothing; what stands in front of a part takes from its
visible share, an uneven background from its contrast, and frames that are lost, damaged, torn or
repeated are no sightings. A clip that begins or ends in mid-stream needs its sightings of the
parts at its ends as of all others, and the speed, where it shows neither front nor tail. Parts
that do not cross the line are not asked about.
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


def whole(seen: Seen) -> bool:
    """Whether all of a part is inside the view, and nothing hides it."""
    return seen.whole and seen.visible >= VISIBLE


def clear(seen: Seen) -> bool:
    """Whether there is background all about a part."""
    return seen.clear_px is None or seen.clear_px >= CLEAR_PX


def part_separable(sightings: Sequence[Seen], readout_ratio: float) -> Separable:
    """Return whether one part can be told apart; `readout_ratio` is its speed times line time."""
    seen_whole = [s for s in sightings if whole(s)]
    apart = [s for s in seen_whole if clear(s)]
    strong = [s for s in seen_whole if (s.contrast_sigma or 0.0) >= CONTRAST_SIGMA]
    always = []
    if len(seen_whole) < WHOLE_WITH_SPEED:
        always.append(f"{len(seen_whole)} whole sightings")
    elif len(apart) < CLEAR:
        always.append(f"{len(apart)} sightings with {CLEAR_PX:g} px of background about it")
    if seen_whole and len(strong) < min(len(seen_whole), WHOLE):
        always.append(f"contrast below {CONTRAST_SIGMA:g} sigma")
    if abs(readout_ratio) > READOUT_RATIO:
        always.append(f"speed times line time {abs(readout_ratio):.2f}")
    bare = list(always)
    if WHOLE_WITH_SPEED <= len(seen_whole) < WHOLE:
        bare.append(f"{len(seen_whole)} whole sightings")
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
