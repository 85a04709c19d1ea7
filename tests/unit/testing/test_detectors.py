"""The conformance kit convicts: each broken detector below is one that somebody could write."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, ClassVar

import numpy as np
import pytest

from viscount.seams import View
from viscount.testing import FakeDetector, check_detector
from viscount.values import Blob, Falls, Frame, Seeing, Sighting


def test_a_right_detector_passes():
    check_detector(FakeDetector, lead_in=20)


class Changed(FakeDetector):
    """Right in all but what `change` does to the answer."""

    change: Callable[[Sighting, Frame], Sighting]

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        return type(self).change(super().see(frame, learn=learn), frame)


def answering(change: Callable[[Sighting, Frame], Sighting]) -> type[Changed]:
    return type("Answering", (Changed,), {"change": staticmethod(change)})


def each_blob(change: Callable[[Blob], Blob]) -> type[Changed]:
    return answering(lambda s, frame: replace(s, blobs=tuple(map(change, s.blobs))))


class OwnCount(FakeDetector):
    count = 0

    def see(self, frame, *, learn=True):
        self.count += 1
        return replace(super().see(frame, learn=learn), index=self.count - 1)


class Writes(FakeDetector):
    def see(self, frame, *, learn=True):
        sighting = super().see(frame, learn=learn)
        pixels: Any = frame.pixels
        (pixels if pixels.base is None else pixels.base).flags.writeable = True
        pixels.flags.writeable = True
        pixels[0, 0] += 1
        pixels.flags.writeable = False
        return sighting


class WritesWhilePriming(FakeDetector):
    def prime(self, frames):
        super().prime(frames)
        for frame in frames:
            frame.pixels.flags.writeable = True
            frame.pixels[0, 0] += 1


class NeedsToWrite(FakeDetector):
    def see(self, frame, *, learn=True):
        np.subtract(frame.pixels, 1, out=frame.pixels)
        return super().see(frame, learn=learn)


class KeepsFrame(FakeDetector):
    def see(self, frame, *, learn=True):
        self.kept = frame.pixels[2:]
        return super().see(frame, learn=learn)


class KeepsPrimed(FakeDetector):
    def prime(self, frames):
        self.kept = [frame.pixels for frame in frames]
        super().prime(frames)


class LooksBack(FakeDetector):
    """Compares with the frame before, and keeps it without a copy."""

    before: Any = None

    def see(self, frame, *, learn=True):
        sighting = super().see(frame, learn=learn)
        still = self.before is not None and np.array_equal(self.before, frame.pixels)
        self.before = frame.pixels
        return replace(sighting, detectable_contrast=20.0 if still else 30.0)


class LearnsLate(FakeDetector):
    """Keeps what it was primed with, and looks at it when it is asked to see."""

    late: Sequence[Frame] = ()

    def prime(self, frames):
        self.late = frames

    def see(self, frame, *, learn=True):
        if self.late:
            super().prime(self.late)
            self.late = ()
        return super().see(frame, learn=learn)


class OnlyBright(FakeDetector):
    def _blobs(self, difference):
        return super()._blobs(np.where(self._sign > 0, difference, 0))

    def see(self, frame, *, learn=True):
        level = 100 if self._background is None else self._background
        self._sign = frame.pixels - level
        return super().see(frame, learn=learn)


class Absorbs(FakeDetector):
    """Forgets to ask whether it may learn."""

    def see(self, frame, *, learn=True):
        sighting = super().see(frame, learn=learn)
        if self._background is not None:
            self._background += 0.01 * (frame.pixels - self._background)
        return sighting


class Shared(FakeDetector):
    backgrounds: ClassVar[dict[str, Any]] = {}

    def prime(self, frames):
        super().prime(frames)
        self.backgrounds["last"] = self._background

    def see(self, frame, *, learn=True):
        last = self.backgrounds["last"]
        if last is not None and last.shape == frame.pixels.shape:
            self._background = last
        return super().see(frame, learn=learn)


class NeedsPriming(FakeDetector):
    def prime(self, frames):
        frames[0]
        super().prime(frames)


class LastIsBackground(FakeDetector):
    def prime(self, frames):
        super().prime(frames)
        if frames:
            self._background = frames[-1].pixels.astype(float)


class FirstIsBackground(FakeDetector):
    def prime(self, frames):
        super().prime(frames)
        if frames:
            self._background = frames[0].pixels.astype(float)


class MeanIsBackground(FakeDetector):
    def prime(self, frames):
        super().prime(frames)
        if frames:
            self._background = np.mean([frame.pixels for frame in frames], axis=0)


class IgnoresStrides(FakeDetector):
    def see(self, frame, *, learn=True):
        base = frame.pixels.base
        if base is not None and base.shape != frame.pixels.shape:
            height, width = frame.pixels.shape
            pixels = base[:height, :width]
            pixels.flags.writeable = False
            frame = replace(frame, pixels=pixels)
        return super().see(frame, learn=learn)


class EvenSizes(FakeDetector):
    """Leaves the last row or column out where their number is odd."""

    def _blobs(self, difference):
        height, width = difference.shape
        return super()._blobs(difference[: height // 2 * 2, : width // 2 * 2])


class FixedBuffer(FakeDetector):
    """Has room for pictures of the usual size only."""

    def _blobs(self, difference):
        return super()._blobs(difference[:131, :131])


class BlindBorder(FakeDetector):
    """Leaves out the outermost pixels, and with them every cut."""

    def _blobs(self, difference):
        inner = np.zeros_like(difference)
        inner[1:-1, 1:-1] = difference[1:-1, 1:-1]
        return super()._blobs(inner)


class FillsBores(FakeDetector):
    def _blob(self, mask, weight, box, shape):
        rows = np.logical_or.accumulate(mask, axis=1)
        filled = rows & np.logical_or.accumulate(mask[:, ::-1], axis=1)[:, ::-1]
        return super()._blob(filled, np.where(filled, weight + 1e-9, 0), box, shape)


class BoresToo(FakeDetector):
    """Lists the inner edge of a washer as a region of its own."""

    def see(self, frame, *, learn=True):
        sighting = super().see(frame, learn=learn)
        ringed = [b for b in sighting.blobs if len(b.profile) and 900 < b.area_px < 1200]
        bores = [b for b in ringed if not b.cut_by_edge and b.box[2] - b.box[0] > 38]
        return replace(sighting, blobs=(*sighting.blobs, *bores))


class OneBlob(FakeDetector):
    """Takes all foreground for one part."""

    def _blobs(self, difference):
        blobs = list(super()._blobs(difference))
        return iter(blobs[:1])


class Sleeps(FakeDetector):
    def see(self, frame, *, learn=True):
        return replace(super().see(frame, learn=learn), state=Seeing.WARMING_UP)


class Dozes(FakeDetector):
    def see(self, frame, *, learn=True):
        sighting = super().see(frame, learn=learn)
        if sighting.blobs:
            return Sighting(index=frame.index, t_ns=frame.t_ns, blobs=(), state=Seeing.BLIND)
        return sighting


class Unturned(FakeDetector):
    """Takes every fall for one down the picture."""

    def __init__(self, view: View) -> None:
        super().__init__(View(falls=Falls.DOWN))


def frozen(profile: Any) -> Any:
    profile.flags.writeable = False
    return profile


def sheared(blob: Blob) -> Blob:
    xx, xy, yy = blob.moments
    return replace(blob, moments=(yy, xy, xx))


def roomy(blob: Blob) -> Blob:
    """Give the box more room along the fall than the part takes."""
    x0, y0, x1, y1 = blob.box
    if y0 < 6 or y1 > 57:
        return blob
    return replace(blob, box=(x0, y0 - 5, x1, y1 + 5), profile=frozen(np.pad(blob.profile, 5)))


def whole_only(sighting: Sighting, frame: Frame) -> Sighting:
    """Leave out what is cut by the border."""
    return replace(sighting, blobs=tuple(b for b in sighting.blobs if not b.cut_by_edge))


def speck(sighting: Sighting, frame: Frame) -> Sighting:
    if sighting.blobs or sighting.state is not Seeing.SEEING or frame.index % 40:
        return sighting
    ghost = Blob(
        x_px=3, y_px=3, sigma_x_px=1, sigma_y_px=1, area_px=1, box=(3, 3, 4, 4),
        moments=(0, 0, 0), profile=frozen(np.ones(1, np.uint16)), cut_by_edge=False,
    )  # fmt: skip
    return replace(sighting, blobs=(ghost,))


BROKEN: dict[str, tuple[Any, str]] = {
    "own count": (OwnCount, "must carry the frame's own"),
    "own clock": (answering(lambda s, f: replace(s, t_ns=s.index * 8_333_333)), "has t_ns"),
    "silent": (answering(lambda s, f: None), "returned a NoneType"),
    "writes": (Writes, "see.. wrote to it"),
    "writes while priming": (WritesWhilePriming, "prime.. wrote to frame"),
    "needs to write": (NeedsToWrite, "see.. raised ValueError"),
    "keeps the frame": (KeepsFrame, "1 frames are still held"),
    "keeps what it was primed with": (KeepsPrimed, "20 frames are still held"),
    "looks back without a copy": (LooksBack, "the buffers of earlier frames"),
    "learns late": (LearnsLate, "the buffers of earlier frames"),
    "only bright": (OnlyBright, "found where it is.* 0 blobs for .* grey 40"),
    "absorbs": (Absorbs, "learn=False .*(standing|px for a part)"),
    "shared background": (Shared, "share no state"),
    "needs priming": (NeedsPriming, "prime.. with 0 frames raised IndexError"),
    "last frame is background": (LastIsBackground, "leave no ghost"),
    "first frame is background": (FirstIsBackground, "leave no ghost"),
    "mean is background": (MeanIsBackground, "leave no ghost"),
    "ignores strides": (IgnoresStrides, "how the pixels lie"),
    "even sizes": (EvenSizes, "cut_by_edge is True|boxes|edges|blobs|cut_by_edge is False"),
    "fixed buffer": (FixedBuffer, "odd, narrow and wide sizes"),
    "blind border": (BlindBorder, "cut_by_edge is False for a part cut by it"),
    "fills bores": (FillsBores, "its bore no part.*area"),
    "bores too": (BoresToo, "2 blobs for one washer"),
    "one blob": (OneBlob, "1 blobs for two parts"),
    "sleeps": (Sleeps, "state is still 'warming up'"),
    "dozes": (Dozes, "the state is 'blind'"),
    "speck": (answering(speck), "No blob in an empty still view"),
    "half blind at the border": (answering(whole_only), "0 blobs for a part .* at the edge"),
    "shifted": (each_blob(lambda b: replace(b, y_px=b.y_px + 0.9)), "centre off|outside box"),
    "moments swapped": (each_blob(sheared), "moments"),
    "roomy boxes": (each_blob(roomy), "box edges off by"),
    "sigma zero": (each_blob(lambda b: replace(b, sigma_x_px=0.0)), "sigma"),
    "profile reversed": (
        each_blob(lambda b: replace(b, profile=frozen(b.profile[::-1]))),
        "head first, has profile",
    ),
    "area of the box": (
        each_blob(lambda b: replace(b, area_px=float((b.box[2] - b.box[0]) * len(b.profile)))),
        "profile sums to",
    ),
    "never cut": (each_blob(lambda b: replace(b, cut_by_edge=False)), "cut_by_edge is False"),
    "no methods": (lambda view: object(), "without prime"),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_detector_is_convicted(name):
    broken, words = BROKEN[name]
    with pytest.raises(AssertionError, match=words):
        check_detector(lambda: broken(View()), lead_in=20)


@pytest.mark.parametrize("falls", [Falls.LEFT, Falls.RIGHT])
def test_a_detector_that_takes_every_fall_for_one_down_is_convicted(falls):
    with pytest.raises(AssertionError, match="entries for a box"):
        check_detector(lambda: Unturned(View(falls=falls)), falls=falls, lead_in=20)


def test_what_a_detector_does_not_claim_to_see_can_be_left_out():
    check_detector(lambda: OnlyBright(View()), dark_parts=False, lead_in=20)


def test_the_message_names_the_demand_the_direction_and_the_frame():
    with pytest.raises(AssertionError) as caught:
        check_detector(lambda: OwnCount(View(falls=Falls.UP)), falls=Falls.UP, lead_in=20)
    assert str(caught.value) == (
        "One answer to each frame, with the frame's index and time (falls up): "
        "frame 5: the answer has index 0; it must carry the frame's own"
    )


def test_a_check_of_nothing_is_no_check():
    with pytest.raises(AssertionError, match="neither dark nor bright"):
        check_detector(FakeDetector, dark_parts=False, bright_parts=False)
