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

import numpy as np
from scipy.spatial import cKDTree

from viscount.simulate.truth.values import FrameTruth, Seen, Separable

WHOLE = 3
WHOLE_WITH_SPEED = 2
CLEAR = 2
CLEAR_PX = 2.0
CONTRAST_SIGMA = 6.0
READOUT_RATIO = 0.6
VISIBLE = 0.95
"""A part of which less than this is to be seen is not seen whole."""
EMPTY = 0.1
"""A place is empty in this share of the frames at least, where it counts."""


def by_part(frames: Iterable[FrameTruth], length_px: float = 0.0) -> dict[int, list[Seen]]:
    """Return each part's sightings in the frames, and at the places, that count.

    `length_px` is the usual length of parts; a place is taken where another is a quarter of that
    from it.
    """
    frames = [frame for frame in frames if frame.new]
    every = [seen for frame in frames for seen in frame.seen]
    found: dict[int, list[Seen]] = {}
    for seen, counts in zip(every, _shown_empty(frames, 0.25 * length_px), strict=True):
        if counts:
            found.setdefault(seen.part, []).append(seen)
    return found


def _shown_empty(frames: Sequence[FrameTruth], reach_px: float) -> list[bool]:
    """Return for each sighting whether enough other frames show its place empty."""
    places = np.array([(seen.x_px, seen.y_px) for frame in frames for seen in frame.seen])
    empty = sum(not frame.seen for frame in frames)
    if not len(places) or not reach_px or empty >= EMPTY * len(frames):
        return [True] * len(places)
    taken = cKDTree(places).query_ball_point(places, reach_px, p=np.inf, return_length=True)
    return [bool(len(frames) - number >= EMPTY * len(frames)) for number in taken]


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


def pour_separable(
    parts: Iterable[tuple[int, Separable]], *, ends_seen: bool, in_pieces: bool = False
) -> Separable:
    """Return whether all parts that cross the line can be told apart.

    `ends_seen` says that the stream's front or tail is to be seen; without a known speed a
    stream that shows neither can be explained by several. `in_pieces` says that a bright band cuts
    parts in two.
    """
    parts = list(parts)
    reasons = tuple(
        f"part {part}: {reason}" for part, separable in parts for reason in separable.reasons
    )
    bare = all(separable.bare for _, separable in parts)
    if not ends_seen:
        reasons = ("neither front nor tail of the stream is to be seen", *reasons)
    if in_pieces:
        reasons = ("a bright band cuts parts in two", *reasons)
    return Separable(
        with_outlet=all(separable.with_outlet for _, separable in parts),
        bare=bare and ends_seen and not in_pieces,
        reasons=reasons,
    )
