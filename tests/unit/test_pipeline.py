"""The pipeline: region, blind time, gaps, a detector that breaks."""

from dataclasses import replace

import numpy as np
import pytest
from counting import count_frames, outlet
from scenes import box, field_scene

from viscount.codes import Code
from viscount.errors import DetectorFailedError
from viscount.motion.prior import geometry_of, motion_prior
from viscount.pipeline import Pipeline
from viscount.testing import FakeDetector
from viscount.values import Frame, Level, Seeing, Sighting, Status

BELT = {"motion": {"kind": "belt"}, "view": {"line_px": 80}}


def test_the_region_is_cut_out_and_positions_are_those_of_the_picture():
    shot = field_scene()
    whole = count_frames(shot.frames, outlet(**BELT))
    cut = count_frames(
        shot.frames,
        outlet(motion={"kind": "belt"}, view={"line_px": 80, "region_px": [30, 10, 100, 150]}),
    )
    assert cut.result.count == whole.result.count == 10
    for a, b in zip(whole.passages, cut.passages, strict=True):
        assert abs(a.t_ns - b.t_ns) < 100_000
        assert a.across_px == pytest.approx(b.across_px, abs=0.2)


def test_a_gap_longer_than_a_part_is_in_view_ends_the_clean_status():
    # Ten parts, 25 ms apart; frames 12 to 17 are missing, and the third part with them.
    shot = field_scene(first_ms=50.0, dropped=range(12, 18))
    found = count_frames(shot.frames, outlet(**BELT))
    assert found.result.count == 9
    assert found.result.status is Status.DOUBTFUL
    (said,) = [r.text for r in found.result.reasons if r.code.code == "frames_lost"]
    # 160 px at 6000 px/s take 26.7 ms.
    assert said.startswith("gap 58.3 ms after frame 71, longer than the 26.")
    assert len(found.pipeline.blind) == 1


@pytest.mark.parametrize("length_px", [32.0, 64.0])
@pytest.mark.parametrize("later_ms", np.arange(0.0, 25.0, 5.0))
@pytest.mark.parametrize("lost", range(1, 5))
def test_a_gap_leaves_the_count_right_or_doubted(length_px: float, later_ms: float, lost: int):
    """Wherever the parts are when it begins, and whether they show whole in it or not: in view for
    26.7 ms, by their middle."""
    part = box(length_px, 16.0)
    shot = field_scene(
        parts=4, first_ms=50.0 + later_ms, pitch_ms=45.0, dropped=range(12, 12 + lost), part=part
    )
    found = count_frames(shot.frames, outlet(**BELT)).result
    seen = (lost + 1) / 120 < 0.0266
    assert found.count == 4 or not seen
    assert (found.status is Status.CLEAN) is seen


def test_a_short_gap_is_bridged_and_stays_clean():
    shot = field_scene(pitch_ms=50.0, dropped=[20])
    found = count_frames(shot.frames, outlet(**BELT))
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)
    assert found.pipeline.blind == ()


def test_a_picture_that_is_shown_again_but_for_a_trace_is_left_out_and_said():
    shot = field_scene(pitch_ms=50.0, repeated=[20])
    frames = [replace(f, pixels=f.pixels + np.uint8(f.index % 2)) for f in shot.frames]
    found = count_frames(frames, outlet(**BELT))
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)
    (said,) = [n for n in found.pipeline.notices if n.code is Code.FRAMES_REPEATED]
    assert said.level is Level.INFO
    assert said.text.startswith("in 1 frame all that was on its way stands still")


def test_frames_too_rare_for_the_speed_are_invalid():
    shot = field_scene(fps=30.0, parts=20, pitch_ms=8.0)
    known = outlet(
        motion={"kind": "belt", "speed_mm_s": 1500.0},
        view={"line_px": 80, "scale_px_per_mm": 4.0},
    )
    found = count_frames(shot.frames, known)
    assert found.result.status is Status.INVALID
    assert "in view 26.7 ms, frames every 33.3 ms: each part at most once" in {
        r.text for r in found.result.reasons
    }


class Breaks:
    """A detector that breaks at one frame."""

    def prime(self, frames):
        pass

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        if frame.index == 3:
            raise ZeroDivisionError("one over nothing")
        return Sighting(index=frame.index, t_ns=frame.t_ns, blobs=())


def test_a_detector_that_breaks_names_the_frame():
    frames = field_scene().frames
    with pytest.raises(
        DetectorFailedError, match=r"frame 3: .*ZeroDivisionError: one over nothing"
    ):
        count_frames(frames, outlet(**BELT), detector=Breaks())


class Blinks:
    """A detector that is blind for some frames."""

    def __init__(self, blind: range) -> None:
        self._blind = blind
        self._inner = FakeDetector()

    def prime(self, frames):
        self._inner.prime(frames)

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        seen = self._inner.see(frame, learn=learn)
        blind = frame.index in self._blind
        return replace(seen, blobs=(), state=Seeing.BLIND) if blind else seen


def test_blind_time_in_which_a_part_can_pass_ends_the_clean_status():
    shot = field_scene(pitch_ms=50.0, part_grey=220.0)
    height, width = shot.frames[0].pixels.shape
    set_up = outlet(**BELT)
    geometry = geometry_of(set_up, height, width)
    pipeline = Pipeline(Blinks(range(80, 90)), geometry, motion_prior(set_up, geometry))
    pipeline.prime(shot.frames[:60])
    for frame in shot.frames:
        pipeline.feed(frame)
    pipeline.finish()
    (gap,) = pipeline.blind
    step = 1e9 / 120
    assert gap.start_ns == pytest.approx(79 * step, abs=2)
    assert gap.end_ns == pytest.approx(89 * step, abs=2)


def test_frames_are_neither_kept_nor_written():
    shot = field_scene(parts=3)
    before = [frame.pixels.copy() for frame in shot.frames]
    count_frames(shot.frames, outlet(**BELT))
    for frame, pixels in zip(shot.frames, before, strict=True):
        np.testing.assert_array_equal(frame.pixels, pixels)


def test_a_repeated_picture_is_no_new_sighting():
    shot = field_scene(pitch_ms=50.0, repeated=[25])
    frames = [
        replace(frame, repeated=bool(k and np.array_equal(frame.pixels, shot.frames[k - 1].pixels)))
        for k, frame in enumerate(shot.frames)
    ]
    assert sum(frame.repeated for frame in frames) == 1
    found = count_frames(frames, outlet(**BELT))
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)
    truth = [p.line_t_ns for p in shot.truth.parts]
    for passage, t_ns in zip(found.passages, truth, strict=True):
        assert abs(passage.t_ns - t_ns) < 300_000


def test_an_old_empty_picture_does_not_tell_that_nothing_was_there():
    """The first part shows in the middle of the view in the frame after it."""
    shot = field_scene(parts=3, first_ms=50.33, pitch_ms=200.0)
    first = next(k for k, f in enumerate(shot.frames) if np.ptp(f.pixels.astype(int)) > 30)
    old = replace(
        shot.frames[first], pixels=shot.frames[first - 1].pixels, repeated=True
    )  # what it truly shows of the part is lost
    frames = [*shot.frames[:first], old, *shot.frames[first + 1 :]]
    found = count_frames(frames, outlet(**BELT))
    assert (found.result.count, found.result.status) == (3, Status.CLEAN)
    assert found.passages[0].doubt < 0.01


def test_a_gap_before_an_old_empty_last_picture_is_told():
    shot = field_scene(pitch_ms=50.0)
    empty = shot.frames[-12].pixels
    assert np.ptp(empty.astype(int)) < 30
    last = replace(shot.frames[-1], pixels=empty, repeated=True)
    found = count_frames([*shot.frames[:-11], last], outlet(**BELT))
    assert [gap.end_ns for gap in found.pipeline.blind] == [last.t_ns]
    assert (found.result.count, found.result.status) == (10, Status.DOUBTFUL)


def test_two_gaps_with_a_frame_between_are_two():
    """Each is short enough for every part to be seen before or after it."""
    shot = field_scene(pitch_ms=50.0, dropped=[20, 22])
    found = count_frames(shot.frames, outlet(**BELT))
    assert (found.result.count, found.result.status) == (10, Status.CLEAN)
    assert found.pipeline.blind == ()


def test_a_gap_goes_on_where_the_frame_after_it_shows_nothing():
    shot = field_scene(pitch_ms=50.0, part_grey=220.0, dropped=[80])
    height, width = shot.frames[0].pixels.shape
    set_up = outlet(**BELT)
    geometry = geometry_of(set_up, height, width)
    pipeline = Pipeline(Blinks(range(80, 84)), geometry, motion_prior(set_up, geometry))
    pipeline.prime(shot.frames[:60])
    for frame in shot.frames:
        pipeline.feed(frame)
    pipeline.finish()
    (gap,) = pipeline.blind
    assert (gap.end_ns - gap.start_ns) * 1e-9 == pytest.approx(4 / 120, abs=1e-6)
