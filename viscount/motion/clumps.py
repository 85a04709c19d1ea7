"""Regions that are several parts at once, and how many they are.

By the others of the pour, which show single parts in the same light; and by what is known of one
part, taught or stated. A number is told only where nothing else fits: parts that touch, nose to
tail or side by side, add up their areas; nose to tail, or corner to corner, their lengths too.
"""

import math
from statistics import median

from viscount.motion.parts import CLUMP, Usual
from viscount.motion.single import EDGE_PX, Single
from viscount.motion.track import Track

ENOUGH_TO_COMPARE = 4
"""So many parts are needed to call one of them too large."""
SAME_EDGE_PX = 0.75
"""By so much each edge of a part may move in one light (`EDGE_PX` from light to light)."""
SIZE_OFF, EVEN_SPREAD, LARGEST_SIZE = 0.15, 0.06, 4
"""A clump's area is so near to a whole number of this pour's single parts, which spread by no
more than that share; of larger clumps nobody knows."""
HALF = 1.3
"""Where the part was taught, a region this many times the pour's usual one is several parts, even
where they cover one another by half and more."""
TAUGHT_OFF = 0.02
"""The same share where no single part is in the pour, and the taught one must do."""
LENGTH_OFF, LENGTH_PX = 0.02, 2.5
"""A clump's length is so near to a whole number of stated lengths, by share and px, and so steady
on its way: a part that turns may show any length."""
LONGEST = 1.15
"""By so much a part's longest side may be exceeded beyond blurred edges."""
BLURRED = 1.1
"""By so much the lens, and a scale that is a little off, may enlarge a part beyond soft edges."""
LONGER, LARGER = 1.35, 1.3
"""What is so many times as long as three in four of a pour's parts, and as large as half of them,
is no single one of them."""
STAYS = 0.85
"""What never shows less than this share of its usual area does not turn."""
STRETCHED = 1.25
"""What turns and stands out shows more of its face or of its length; not both, and so much."""
LEAST_WHOLE = 2


def is_clump(track: Track, look: Usual) -> bool:
    """Whether the track's region is all along too large for one part."""
    if look.area is None or not track.whole:
        return False
    area, single = track.traits.whole_area, look.prior.single
    if single is not None:
        tells = single.area.high < 2.0 * single.area.low
        if tells and area <= single.area.high:
            return False
        if area > _most(single, look):
            return True
    if single is None and (_too_long(track, look) or area > most_stated(look)):
        return True
    if look.crossed < ENOUGH_TO_COMPARE:
        return False
    if _outgrows(track, look) or _stands_out(track, look):
        return True
    if track.traits.keeps_its_length:
        # Parts that come apart on their way grow longer; one that turns may only grow broader.
        area = track.traits.lesser_area
    return area > max(CLUMP * look.area, look.area + 5.0 * look.area_spread)


def shared_by_two(track: Track, look: Usual) -> bool:
    """Whether the track was never alone in its regions, and they are too large for one part."""
    if look.area is None or track.whole:
        return False
    areas = [sight.area for sight in track.sights if sight.whole]
    return bool(areas) and median(areas) > CLUMP * look.area


def clump_size(track: Track, look: Usual) -> int | None:
    """Return how many parts a clump is, or None where its size does not tell."""
    if not is_clump(track, look):
        return None
    if look.prior.single is not None:
        return _size_by_area(track, look, look.prior.single)
    return _size_by_length(track, look) if _too_long(track, look) else None


def likely_size(track: Track, look: Usual) -> int:
    """Return how many parts a clump of unknown number most likely is, by its area alone.

    Parts that cover one another show less, and a part that stands out may be one for all that. Of
    what is larger than a few parts nobody knows what it is: it counts as one.
    """
    single = look.prior.single
    usual = look.alone or (look.area if single is None else single.area.usual)
    assert usual is not None
    size = round(track.traits.whole_area / usual)
    return size if 1 <= size <= LARGEST_SIZE else 1


def most_stated(look: Usual) -> float:
    """Return the largest area, px, that one part of the stated sizes shows; inf where none are.

    However it is turned: with soft edges, by the exposure and the readout as stated.
    """
    stated = look.prior.part_area_px
    if stated is None:
        return math.inf
    breadth = math.sqrt(stated) + 2.0 * EDGE_PX
    return BLURRED * breadth * (breadth + _smear(look)) * look.stretch


def _most(single: Single, look: Usual) -> float:
    """Return the most that one taught part may show in this pour.

    In its light, where some of its parts look like one that was taught; else in any light.
    """
    if look.alone is not None:
        spread = single.area.high / single.area.usual
        return max(HALF * look.alone, spread * look.alone + single.rim(SAME_EDGE_PX))
    own = single.area.high + single.rim()
    return max(CLUMP * single.area.usual, own) + single.smeared(_smear(look))


def _smear(look: Usual) -> float:
    """Return how far parts move while a frame is exposed, as far as that is stated."""
    return look.model.usual_speed * look.prior.exposure_s


def _size_by_area(track: Track, look: Usual, single: Single) -> int | None:
    """Return the number of taught parts whose areas add up to the region's.

    By this pour's own single parts where it has some that look as taught; else by the taught
    part itself, in much the same light.
    """
    area = track.traits.whole_area
    own = max(single.area.high - single.area.usual, single.area.usual - single.area.low)
    if own > 2.0 * EVEN_SPREAD * single.area.usual:
        return None
    if look.alone is not None:
        usual, spread = look.alone, look.alone_spread / look.alone
        size = round(area / usual)
        off = (SIZE_OFF + 2.0 * spread * math.sqrt(size)) * usual
    else:
        usual, spread = single.area.usual, look.area_spread / (look.area or single.area.usual)
        size = round(area / usual)
        off = TAUGHT_OFF * size * usual + own * math.sqrt(size) + single.rim(SAME_EDGE_PX)
    if spread > EVEN_SPREAD:
        return None
    if abs(area - size * usual) > off:
        return None
    longest = size * single.length.high * (1.0 + LENGTH_OFF) + 2.0 * EDGE_PX * max(
        single.coarse_px, 1.0
    )
    fits = 2 <= size <= LARGEST_SIZE and track.traits.length <= longest
    return size if fits else None


def _size_by_length(track: Track, look: Usual) -> int | None:
    """Return the number of stated lengths that follow each other in the region.

    Unless its area is that of another number of this pour's parts: they lie across each other.
    """
    one = look.prior.part_length_px
    assert one is not None
    assert look.area is not None
    length = track.traits.length / look.stretch
    size = round(length / one)
    off = abs(length - size * one)
    near = off <= LENGTH_OFF * length + LENGTH_PX and track.traits.keeps_its_length
    fits = 2 <= size <= LARGEST_SIZE and near
    return size if fits and round(track.traits.whole_area / look.area) in (1, size) else None


def _too_long(track: Track, look: Usual) -> bool:
    """Whether the region is longer than one part of the stated sizes, whichever way it turns."""
    one, longest = look.prior.part_length_px, look.prior.longest_px
    if one is None or len(track.whole) < LEAST_WHOLE:
        return False
    most = _smear(look) + 2.0 * EDGE_PX
    if track.traits.keeps_its_length:
        return track.traits.length / look.stretch > max(CLUMP * one, longest or 0.0) + most
    least = track.traits.least_length / look.stretch
    return longest is not None and least > LONGEST * max(one, longest) + most


def _stands_out(track: Track, look: Usual) -> bool:
    """Whether the region is larger than most parts about it by more than these differ: two, the
    one half behind the other.

    What alone turns, among others that do not, would show more and less of itself on its way.
    Two that pass one another do so, too, but are longer than the others as well.
    """
    area = track.traits.whole_area
    if len(track.whole) < LEAST_WHOLE or area < look.outlying(track.when):
        return False
    stays = min(sight.area for sight in track.whole) >= STAYS * area
    return stays or (look.length is not None and track.traits.length > STRETCHED * look.length)


def _outgrows(track: Track, look: Usual) -> bool:
    """Whether the region is all along longer than this pour's parts get, and larger than usual.

    Of parts that turn one that shows its full length may be much longer than others, and of flat
    ones one that shows its face much larger; no single part is both.
    """
    if look.area is None or look.length is None or len(track.whole) < LEAST_WHOLE:
        return False
    larger = track.traits.whole_area > LARGER * look.area
    return larger and track.traits.least_length > LONGER * look.length
