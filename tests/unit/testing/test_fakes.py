import numpy as np
import pytest

from viscount.codes import Code
from viscount.errors import SourceError
from viscount.seams import Camera, Detector
from viscount.testing import FakeCamera, FakeDetector
from viscount.values import Frame, Level, Notice, Seeing


def frame(index: int, pixels: np.ndarray | None = None, t_ns: int | None = None) -> Frame:
    pixels = np.full((20, 30), 100, np.uint8) if pixels is None else pixels.copy()
    pixels.flags.writeable = False
    return Frame(index=index, t_ns=index * 1000 if t_ns is None else t_ns, pixels=pixels)


def with_part() -> np.ndarray:
    pixels = np.full((20, 30), 100, np.uint8)
    pixels[4:10, 12:16] = 40
    return pixels


def test_the_fakes_are_what_the_program_asks_for():
    assert isinstance(FakeDetector(), Detector)
    assert isinstance(FakeCamera([]), Camera)


def test_the_detector_finds_a_part():
    detector = FakeDetector()
    detector.prime([frame(0)])
    (blob,) = detector.see(frame(0, with_part())).blobs
    assert (blob.x_px, blob.y_px) == (13.5, 6.5)
    assert blob.box == (12, 4, 16, 10)
    # Var of n whole steps, (n² - 1) / 12.
    assert blob.moments == pytest.approx((15 / 12, 0, 35 / 12))


def test_without_priming_it_warms_up_first():
    detector = FakeDetector(warm_up=2)
    states = [detector.see(frame(index)).state for index in range(3)]
    assert states == [Seeing.WARMING_UP, Seeing.SEEING, Seeing.SEEING]


def test_it_fails_and_goes_blind_where_it_is_told_to():
    detector = FakeDetector(fails_at=2, blind_at=[1])
    detector.prime([frame(0)])
    detector.see(frame(0))
    assert detector.see(frame(1, with_part())).state is Seeing.BLIND
    with pytest.raises(RuntimeError, match="fails at frame 2"):
        detector.see(frame(2))


@pytest.mark.parametrize(
    ("second", "words"),
    [
        (frame(1), "came after"),
        (frame(0, t_ns=5000), "came after"),
        (frame(2, t_ns=1000), "came after"),
        (frame(2, np.zeros((20, 31), np.uint8)), r"is \(20, 31\)"),
        (frame(2, np.zeros((20, 30))), "not uint8"),
        (frame(2, np.zeros((20, 30, 3), np.uint8)), "not uint8"),
        (Frame(index=2, t_ns=9999, pixels=np.zeros((20, 30), np.uint8)), "can be written to"),
    ],
)
def test_the_detector_holds_its_caller_to_the_contract(second, words):
    detector = FakeDetector()
    detector.prime([frame(1)])
    detector.see(frame(1))
    with pytest.raises(AssertionError, match=words):
        detector.see(second)


def test_the_detector_is_primed_once_before_it_sees_with_the_frames_that_follow():
    detector = FakeDetector()
    detector.prime([frame(3)])
    with pytest.raises(AssertionError, match="twice"):
        detector.prime([frame(3)])
    with pytest.raises(AssertionError, match="primed from frame 3 on, but frame 4 came first"):
        detector.see(frame(4))
    late = FakeDetector()
    late.see(frame(0))
    with pytest.raises(AssertionError, match="after see"):
        late.prime([])


NOTICE = Notice(level=Level.INFO, code=Code.CLOCK_VARIES, text="so it goes")


def test_the_camera_hands_out_its_frames_and_then_its_notices():
    with FakeCamera([frame(0), frame(1)], [NOTICE]) as camera:
        frames = camera.frames()
        assert next(frames).index == 0
        assert camera.notices() == ()
        assert [one.index for one in frames] == [1]
        assert camera.notices() == (NOTICE,)


def test_the_camera_makes_frames_of_pictures():
    pictures = [with_part(), with_part(), with_part()]
    with FakeCamera.of_pictures(pictures, rate_hz=120.0) as camera:
        frames = list(camera.frames())
    assert [one.t_ns for one in frames] == [0, 8_333_333, 16_666_667]
    assert not frames[0].pixels.flags.writeable
    assert pictures[0].flags.writeable


def test_the_camera_fails_where_it_is_told_to():
    with FakeCamera([frame(0), frame(1)], fails_at=1) as camera:
        frames = camera.frames()
        next(frames)
        with pytest.raises(SourceError):
            next(frames)


@pytest.mark.parametrize(
    ("frames", "words"),
    [
        ([frame(1)], "frame 0 has index 1"),
        ([frame(0, t_ns=7)], "the first is at 0"),
        ([frame(0), frame(2)], "frame 1 has index 2"),
        ([frame(0), frame(1, t_ns=0)], "has time 0 ns"),
        ([frame(0), frame(1, np.zeros((2, 2), np.uint8))], "another size"),
        ([Frame(index=0, t_ns=0, pixels=np.zeros((2, 2), np.uint8))], "can be written to"),
    ],
)
def test_the_camera_takes_only_frames_that_a_real_one_could_have_made(frames, words):
    with pytest.raises(AssertionError, match=words):
        FakeCamera(frames)


def test_the_camera_holds_its_caller_to_the_contract():
    camera = FakeCamera([frame(0), frame(1)])
    with pytest.raises(AssertionError, match="outside"):
        camera.frames()
    with camera:
        frames = camera.frames()
        next(frames)
        with pytest.raises(AssertionError, match="twice"):
            camera.frames()
    camera.close()
    with pytest.raises(AssertionError, match="after close"):
        next(frames)
    with pytest.raises(AssertionError, match="opened once"):
        camera.__enter__()
