"""What there is to say of a pour as a whole."""

from dataclasses import replace
from itertools import chain

import pytest
from steady_tracks import model, track

from viscount.codes import Code
from viscount.motion.findings import findings
from viscount.motion.parts import Usual
from viscount.motion.speed import MotionPrior
from viscount.motion.track import Track
from viscount.values import Level, Notice

LOOK = Usual(area=1400.0, crossed=9, area_spread=20.0, model=model(), view=480.0)


def said(
    ended: list[Track],
    parts: list[Track],
    surprise: float | None = 0.0,
    prior: MotionPrior | None = None,
) -> list[Notice]:
    known = LOOK, prior or MotionPrior(), surprise, 160.0
    return list(chain.from_iterable(findings(ended, parts, parts, *known, decided=True)))


def codes(parts: list[Track], surprise: float | None) -> list[Code]:
    return [notice.code for notice in said(parts, parts, surprise)]


@pytest.mark.parametrize(
    ("parts", "surprise", "unlikely"),
    [
        (2, 4.9, False),  # five is about what chance brings, however few the sightings
        (2, 5.1, True),
        (10, 8.9, False),  # of sixty sightings 15 % may surprise by one
        (10, 9.1, True),
        (10, None, False),
    ],
)
def test_paths_that_surprise_more_than_chance_does_are_doubted(
    parts: int, surprise: float | None, unlikely: bool
) -> None:
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(parts)]
    assert (Code.PATHS_UNLIKELY in codes(pour, surprise)) is unlikely


def test_what_is_left_over_in_one_place_of_a_long_pour_is_doubted() -> None:
    """Ten of six hundred parts, one after the other, that nobody followed."""
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(600)]
    followed = [one for k, one in enumerate(pour) if not 300 <= k < 310]
    lost = [track(64.0, 1400.0, at_s=0.05 * k, sights=3) for k in range(300, 310)]
    found = said([*followed, *lost], followed)
    (notice,) = [n for n in found if n.code is Code.SIGHTINGS_LEFT_OVER]
    assert "about 15.0 s" in notice.text


def test_a_few_here_and_there_are_not() -> None:
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(600)]
    lost = [track(64.0, 1400.0, at_s=0.05 * k, sights=1) for k in range(0, 600, 40)]
    found = said([*pour, *lost], pour)
    assert Code.SIGHTINGS_LEFT_OVER not in {notice.code for notice in found}


def test_what_a_clump_is_counted_as_is_said() -> None:
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(6)]
    pour.append(track(128.0, 2800.0, at_s=0.4))
    (text,) = [n.text for n in said(pour, pour) if n.code is Code.PARTS_MERGED]
    assert text == "1 region too large for one part, counted as 2 by area alone"


def test_parts_that_touch_have_a_waist_on_their_way_but_not_where_they_lie() -> None:
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(5)]
    pour[2].sights = [replace(sight, waist=0.4) for sight in pour[2].sights]
    assert Code.PARTS_MERGED in codes(pour, 0.0)
    pour[2].halted_s = pour[2].sights[0].t_s
    assert Code.PARTS_MERGED not in codes(pour, 0.0)


@pytest.mark.parametrize(("place", "unlikely"), [(0, True), (1, False)])
def test_a_pour_whose_first_part_comes_from_nowhere_is_doubted(place: int, unlikely: bool) -> None:
    """A later one may have come out from behind another."""
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(20)]
    for one in pour:
        one.born = "entry"
    pour[place].born = "midway"
    assert _doubted(pour, pour) is unlikely
    assert not _doubted(pour, pour, opens=False)


@pytest.mark.parametrize(
    ("born", "frame", "y", "area", "unlikely"),
    [
        ("midway", 2, 100.0, 700.0, True),
        ("midway", 2, -60.0, 700.0, False),  # the next one
        ("midway", 9, 100.0, 700.0, False),  # long after
        ("midway", 0, 100.0, 700.0, False),  # before
        ("midway", 2, 100.0, 300.0, False),  # a speck
        ("entry", 2, 100.0, 700.0, False),
    ],
)
def test_nothing_as_large_is_ahead_of_the_first_part(
    born: str, frame: int, y: float, area: float, unlikely: bool
) -> None:
    """Under a wrong speed the first part is said to be where the second one is seen next."""
    pour = _pour()
    other = track(64.0, area, sights=1)
    other.born, other.sights = born, [replace(other.sights[0], frame=frame, y=y)]
    assert _doubted([*pour, other], pour) is unlikely
    assert not _doubted([*pour, other], pour, opens=False)


@pytest.mark.parametrize(
    ("frame", "y", "missed", "unlikely"),
    [
        (103, -120.0, 2, True),
        (103, -120.0, 1, False),  # it left
        (103, 120.0, 2, False),  # ahead of it
        (90, -120.0, 2, False),  # of the stream
    ],
)
def test_nothing_as_large_comes_in_behind_the_last_part_and_vanishes(
    frame: int, y: float, missed: int, unlikely: bool
) -> None:
    pour = _pour()
    other = track(64.0, 700.0, sights=1)
    other.born, other.missed = "entry", missed
    other.sights = [replace(other.sights[0], frame=frame, y=y)]
    assert _doubted([*pour, other], pour) is unlikely
    assert not _doubted([*pour, other], pour, closes=False)


def test_dust_that_passed_for_parts_before_is_not_the_first() -> None:
    pour, dust = _pour(), track(64.0, 300.0, at_s=-1.0)
    dust.born = "midway"
    assert not _doubted([dust, *pour], [dust, *pour])


def _pour() -> list[Track]:
    """Twenty parts, seen from frames 0 to 5 on, and 100 to 105 at last."""
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(20)]
    for one in pour:
        one.born = "entry"
    pour[-1].sights = [replace(sight, frame=sight.frame + 100) for sight in pour[-1].sights]
    return pour


def _doubted(
    ended: list[Track], parts: list[Track], *, opens: bool = True, closes: bool = True
) -> bool:
    known = LOOK, MotionPrior(), None, 160.0
    found = findings(ended, parts, parts, *known, decided=True, opens=opens, closes=closes)
    return Code.PATHS_UNLIKELY in {notice.code for notice in chain.from_iterable(found)}


@pytest.mark.parametrize(("share", "told"), [(1.0, True), (0.6, True), (0.4, False)])
def test_a_lesser_waist_that_most_have_is_no_noise(share: float, told: bool) -> None:
    pour = [track(64.0, 1400.0, at_s=0.05 * k, sights=8) for k in range(10)]
    for one in pour[: round(10 * share)]:
        waists = [0.78, 0.78, 0.78, 0.78, 0.78, 0.85, 0.85, 0.85]
        one.sights = [
            replace(sight, waist=waist) for sight, waist in zip(one.sights, waists, strict=True)
        ]
    found = [notice.text for notice in said(pour, pour) if "waist" in notice.text]
    number = f"{round(10 * share)} of 10 "
    assert [text.startswith(number) for text in found] == [True] * told


@pytest.mark.parametrize(
    ("bores", "told"), [([1, 1, 2, 2, 2, 2], True), ([1, 1, 1, 1, 2, 2], False), ([0] * 6, False)]
)
def test_a_region_that_shows_two_bores_half_the_time_is_two(bores: list[int], told: bool) -> None:
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(5)]
    pour[2].sights = [
        replace(sight, bores=float(own)) for sight, own in zip(pour[2].sights, bores, strict=True)
    ]
    found = [n.text for n in said(pour, pour) if n.code is Code.PARTS_MERGED]
    assert [text[:22] for text in found] == ["1 of 5 regions have two"[:22]] * told
    pour[2].halted_s = pour[2].sights[0].t_s
    assert Code.PARTS_MERGED not in codes(pour, 0.0)


@pytest.mark.parametrize(
    ("lengths", "breadth", "crossed", "longest_px", "told"),
    [
        ([64, 61, 58, 55, 52, 49], 1.0, 3, None, True),
        ([64, 64, 63, 63, 62, 62], 1.0, 3, None, False),  # one body
        ([64, 61, 58, 55, 52, 49], 1.5, 3, None, False),  # not long enough for two in a row
        ([64, 61, 58, 55, 52, 49], 1.0, 4, None, False),  # others tell
        ([64, 61, 58, 55, 52, 49], 1.0, 3, 70.0, False),  # and so does the outlet file
    ],
)
def test_few_long_regions_that_close_up_are_doubted_where_nothing_tells_what_a_part_is(
    lengths: list[float], breadth: float, crossed: int, longest_px: float | None, told: bool
) -> None:
    row = track([float(length) for length in lengths], 1400.0)
    row.sights = [replace(s, var_across=breadth**2 * s.var_across) for s in row.sights]
    look = replace(LOOK, crossed=crossed)
    known = MotionPrior(longest_px=longest_px), 0.0, 160.0
    found = chain.from_iterable(findings([row], [row], [row], look, *known, decided=True))
    assert [n.code for n in found if "in a row" in n.text] == [Code.PARTS_MERGED] * told


def test_a_waist_and_two_bores_are_both_told():
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(5)]
    pour[1].sights = [replace(sight, waist=0.5) for sight in pour[1].sights]
    pour[2].sights = [replace(sight, bores=2.0) for sight in pour[2].sights]
    (text,) = [n.text for n in said(pour, pour) if n.code is Code.PARTS_MERGED]
    assert text.startswith("1 of 5 regions have a waist, 1 of 5 regions have two bores or more")


@pytest.mark.parametrize(
    ("area", "at_the_side", "doubted"),
    [(600.0, 6, True), (600.0, 5, False), (800.0, 6, False)],
)
def test_parts_that_show_but_an_edge_at_the_side_of_the_view_are_doubted(
    area: float, at_the_side: int, doubted: bool
) -> None:
    """Half of a part is 700 px; what was in view for once has nothing beside it."""
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(5)]
    edge = track(64.0, area, at_s=0.1)
    edge.sights = [replace(s, aside=k < at_the_side) for k, s in enumerate(edge.sights)]
    pour[2] = edge
    found = [n for n in said(pour, pour) if n.code is Code.PARTS_BESIDE_VIEW]
    assert [(n.level, n.text[:6]) for n in found] == [(Level.DOUBT, "1 of 5")] * doubted


def test_what_was_never_seen_whole_shows_no_waist() -> None:
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(5)]
    pour[2].sights = [replace(sight, whole=False, waist=0.4) for sight in pour[2].sights]
    stated = MotionPrior(longest_px=55.0)
    assert not [n.text for n in said(pour, pour, prior=stated) if "waist" in n.text]


def test_noise_that_opens_a_ring_now_and_then_makes_no_waist() -> None:
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(5)]
    waists = [0.2, 0.2, 1.0, 0.2, 1.0, 0.2]
    pour[2].sights = [
        replace(sight, waist=waist) for sight, waist in zip(pour[2].sights, waists, strict=True)
    ]
    assert Code.PARTS_MERGED not in codes(pour, 0.0)


@pytest.mark.parametrize(
    ("waist", "longest_px", "doubted"),
    [(0.7, 70.0, False), (0.7, 55.0, True), (0.6, 70.0, True), (0.6, 55.0, True)],
)
def test_a_slight_waist_within_one_part_of_the_stated_sizes_is_its_own(
    waist: float, longest_px: float, doubted: bool
) -> None:
    """Of these regions the second moment along the fall is that of a bar of 62 px."""
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(5)]
    pour[2].sights = [replace(sight, waist=waist) for sight in pour[2].sights]
    prior = MotionPrior(longest_px=longest_px, part_area_px=longest_px**2)
    found = [n.text for n in said(pour, pour, prior=prior) if "waist" in n.text]
    assert bool(found) is doubted


def test_two_thin_ones_that_cross_within_ones_length_are_doubted() -> None:
    """They cover 1.4 times as much as the others."""
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(5)]
    pour[2] = track(64.0, 1960.0, at_s=0.1)
    pour[2].sights = [replace(sight, waist=0.7) for sight in pour[2].sights]
    prior = MotionPrior(longest_px=70.0, part_area_px=70.0**2)
    assert any("waist" in n.text for n in said(pour, pour, prior=prior))


def test_what_a_readout_against_the_fall_shows_shorter_is_no_shorter() -> None:
    """At 3,000 px/s 50 us a line make 62 px of 71: longer than a stated part of 65."""
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(5)]
    pour[2].sights = [replace(sight, waist=0.7) for sight in pour[2].sights]
    for line_time_s, doubted in ((0.0, False), (-5e-5, True)):
        prior = MotionPrior(longest_px=65.0, part_area_px=65.0**2, line_time_along_s=line_time_s)
        look = replace(LOOK, prior=prior)
        found = findings(pour, pour, pour, look, prior, 0.0, 160.0, decided=True)
        assert any("waist" in n.text for n in chain.from_iterable(found)) is doubted


@pytest.mark.parametrize(
    ("line_time_s", "doubted"),
    [
        (0.0, True),
        (7e-5, False),  # at 3,000 px/s 1.27 times as long
        (-7e-5, True),
    ],
)
def test_a_readout_along_the_fall_shows_all_parts_larger_than_stated(
    line_time_s: float, doubted: bool
) -> None:
    """Regions of 1,400 px; a part of 29.5 px squared shows 1.1 times 32.5 px squared at most."""
    pour = [track(64.0, 1400.0, at_s=0.05 * k) for k in range(5)]
    prior = MotionPrior(part_area_px=29.5**2, line_time_along_s=line_time_s)
    found = findings(pour, pour, pour, replace(LOOK, prior=prior), prior, 0.0, 160.0, decided=True)
    assert any("of itself at most" in n.text for n in chain.from_iterable(found)) is doubted
