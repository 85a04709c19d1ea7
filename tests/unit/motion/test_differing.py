"""Whether a pour's parts are the taught one, or the stated one."""

from dataclasses import replace

import pytest
from steady_tracks import model, track

from viscount.codes import Code
from viscount.motion.differing import unlike_part
from viscount.motion.parts import Usual
from viscount.motion.single import Single, Span
from viscount.motion.speed import MotionPrior
from viscount.values import Level


def span(usual: float, share: float) -> Span:
    return Span(low=usual * (1 - share), usual=usual, high=usual * (1 + share))


def taught(share: float = 0.02, scale: float | None = 4.0) -> MotionPrior:
    single = Single(
        length=span(66.0, share),
        area=span(1400.0, share),
        gyration=span(20.0, share),
        scale_px_per_mm=scale,
    )
    return MotionPrior(single=single, exposure_s=1e-5)


def said(prior: MotionPrior, *parts: tuple[float, float, float]) -> list[str]:
    """What is said of parts of these lengths, areas and radii of gyration, three of each."""
    tracks = [track(li, a, gyration=g, at_s=0.1 * k) for k, (li, a, g) in enumerate(parts * 3)]
    look = Usual(
        area=parts[0][1],
        crossed=len(tracks),
        area_spread=10.0,
        model=model(),
        view=480.0,
        prior=prior,
    )
    found = list(unlike_part(tracks, look, prior))
    assert all((n.code, n.level) == (Code.PART_DIFFERS, Level.DOUBT) for n in found)
    return [n.text for n in found]


@pytest.mark.parametrize(
    "part",
    [
        (66.0, 1400.0, 20.0),
        (69.0, 1560.0, 20.1),  # a soft lens
        (63.5, 1220.0, 20.0),  # little contrast
        (68.0, 1440.0, 20.6),  # a scale that is off a little
    ],
)
def test_the_same_part_in_other_light(part: tuple[float, float, float]):
    assert said(taught(), part) == []


def test_another_part_is_doubted_with_both_numbers():
    (text,) = said(taught(), (82.0, 1700.0, 25.0))
    assert text == (
        "the parts are 20.5 mm long along the fall, where the taught part has 16.5 (16.2 to "
        "16.8); 6.25 mm in radius of gyration, where the taught part has 5 (4.9 to 5.1)"
    )
    (text,) = said(taught(scale=None), (66.0, 2200.0, 20.0))
    assert "2.2e+03 px² in area, where the taught part has 1.4e+03" in text


def test_parts_of_one_size_in_other_shapes_are_told_by_their_gyration():
    (text,) = said(taught(), (66.0, 1400.0, 17.0))
    assert "radius of gyration" in text


def test_spreads_that_overlap_are_no_difference():
    """Parts that turn as they fall, as taught or as poured, may be the same."""
    assert said(taught(0.3), (80.0, 1700.0, 25.0)) == []
    turned = [(66.0, 1400.0, 20.0), (40.0, 1000.0, 13.0), (45.0, 1000.0, 14.0)]
    assert said(taught(), *turned) == []


def test_clumps_of_the_right_part_are_not_another_part():
    singles = [(66.0, 1400.0, 20.0)] * 2
    assert said(taught(), *singles, *[(90.0, 2400.0, 33.0)] * 3) == []


def test_too_few_parts_have_no_usual_size():
    prior = taught()
    tracks = [track(90.0, 1900.0, gyration=27.0, at_s=0.1 * k) for k in range(2)]
    look = Usual(area=1900.0, crossed=2, area_spread=1.0, model=model(), view=480.0, prior=prior)
    assert list(unlike_part(tracks, look, prior)) == []
    unlearned = replace(look, model=replace(look.model, learned=False))
    assert list(unlike_part([*tracks, *tracks], unlearned, prior)) == []


def test_longer_than_any_part_of_the_stated_sizes():
    stated = MotionPrior(longest_px=70.0)
    assert said(stated, (68.0, 1400.0, 20.0)) == []
    (text,) = said(stated, (92.0, 1860.0, 27.0))
    assert text == "the parts are 92 px long, where one of the stated sizes has 70"


@pytest.mark.parametrize(("length", "differ"), [(49.5, False), (56.0, True)])
def test_a_stated_exposure_explains_what_parts_do_not_show(length: float, differ: bool) -> None:
    """At 3,000 px/s 2 ms add six px: whole pixels, or faint ends, may hide how that grows."""
    prior = MotionPrior(longest_px=40.0, exposure_s=2e-3)
    fall = model(acceleration=39000.0)
    tracks = [track(length, 900.0, at_s=0.1 * k, step=20.0) for k in range(6)]
    look = Usual(area=900.0, crossed=6, area_spread=9.0, model=fall, view=480.0, prior=prior)
    assert bool(list(unlike_part(tracks, look, prior))) is differ
