"""The conformance kit for detectors: what every one of them must do, whoever wrote it.

Plain functions that take a maker; they need numpy and nothing else, and raise AssertionError
with words. Scenes are drawn here, seeded, with truth known to the subpixel.
"""

import gc
import weakref
from collections.abc import Callable, Iterator

import numpy as np

from viscount.seams import Detector
from viscount.testing.answers import require, same_sighting
from viscount.testing.scene import BRIGHT, DARK, Film, Part, bar, screw, washer
from viscount.testing.trial import Subject, Trial, with_pixels
from viscount.values import Blob, Falls, Frame

_CENTRE_PX = 0.5
_BOX_PX = 2.0
_AREA = 0.15
_MOMENT = 0.25
_CLEAR_PX = 2.0
_STEP_PX = 7.3


def check_detector(
    make: Callable[[], Detector],
    *,
    falls: Falls = Falls.DOWN,
    dark_parts: bool = True,
    bright_parts: bool = True,
    lead_in: int = 60,
) -> None:
    """Assert that a detector does what the rest of the program relies on.

    The scenes are still views of grey 90 to 110 with noise of 2 levels, parts of grey 40 and
    200, at least 12 px wide, which move by 7.3 px from frame to frame.

    Parameters
    ----------
    make : makes a new detector for a view in which parts fall in direction `falls`.
    falls : that direction. Use `check_detector_entry` for all four.
    dark_parts, bright_parts : whether it sees parts darker, and parts brighter than the
        background. Switch off what it does not claim to see, and say so in its summary.
    lead_in : how many frames of the empty view it may take until it sees.

    Raises
    ------
    AssertionError
        Naming the demand that is not met, and the frame where that showed.
    """
    greys = (DARK,) * dark_parts + (BRIGHT,) * bright_parts
    require(bool(greys), "a detector that sees neither dark nor bright parts cannot be checked")
    require(lead_in > 0, "the lead-in must have at least one frame")
    subject = Subject(make=make, falls=falls, greys=greys, lead_in=lead_in)
    for check in _CHECKS:
        try:
            check(subject)
        except AssertionError as error:
            title = (check.__doc__ or check.__name__).splitlines()[0].rstrip(".")
            raise AssertionError(f"{title} (falls {falls}): {error}") from error


def _falling(
    film: Film, shape: Callable[[float, float, float], Part], grey: float
) -> Iterator[tuple[Part, Frame]]:
    """Let one part fall through the view, from above it until below it, drifting a little."""
    along, across = -45.0, film.shape[1] / 2 - 3.2
    while along < film.shape[0] + 45:
        part = shape(along, across, grey)
        yield part, film.frame(part)
        along += _STEP_PX
        across += 0.37


def _stream(film: Film, grey: float, least: int) -> Iterator[Frame]:
    """Let parts fall one behind the other; the first frame and the last show one as a whole."""
    first, across = film.shape[0] / 2, film.shape[1] / 2
    whole, count = False, 0
    while count < least or not whole:
        along = (first + 20 + count * _STEP_PX) % (film.shape[0] + 40) - 20
        part = bar(along, across, grey)
        whole = part.inside_by(film.shape) > 0
        yield film.frame(part)
        count += 1


def _check_found(film: Film, frame: Frame, blob: Blob, part: Part) -> None:
    """Assert that a whole part's blob is where and what the part is."""
    where = f"frame {frame.index}"
    off = np.subtract(film.centre(blob), part.centre)
    require(
        bool(np.abs(off).max() <= _CENTRE_PX),
        f"{where}: centre off by {off[0]:+.2f} px along and {off[1]:+.2f} px across the fall",
    )
    edges = np.subtract(film.extent(blob), part.extent)
    require(
        bool(np.abs(edges).max() <= _BOX_PX),
        f"{where}: box edges off by {np.round(edges, 1).tolist()} px (along, across, twice)",
    )
    require(
        abs(blob.area_px / part.area - 1) <= _AREA,
        f"{where}: area {blob.area_px} px for a part of {part.area:.0f} px",
    )
    require(not blob.cut_by_edge, f"{where}: cut_by_edge for a part wholly in view")


def _plain_answers(subject: Subject) -> None:
    """One answer to each frame, with the frame's index and time."""
    film = subject.film()
    trial = Trial(subject)
    trial.prime([])
    for _ in range(subject.lead_in):
        trial.see(film.frame())
    for grey in subject.greys:
        for _, frame in _falling(film, bar, grey):
            trial.see(frame)


def _empty_view(subject: Subject) -> None:
    """No blob in an empty still view, with noise and without."""
    for noise in (2.0, 0.0):
        film = subject.film(noise=noise)
        trial = subject.started(film)
        for _ in range(60):
            blobs = trial.see_now(film.frame())
            require(not blobs, f"{len(blobs)} blobs in an empty view with noise {noise}")


def _moving_parts(subject: Subject) -> None:
    """A moving part is found where it is, whole or cut by the edge."""
    for noise in (2.0, 0.0):
        film = subject.film(noise=noise)
        trial = subject.started(film)
        for grey in subject.greys:
            for part, frame in _falling(film, bar, grey):
                _check_part(film, trial, part, frame)


def _check_part(film: Film, trial: Trial, part: Part, frame: Frame) -> None:
    inside = part.inside_by(film.shape)
    hidden = part.extent[2] < _CLEAR_PX or part.extent[0] > film.shape[0] - 1 - _CLEAR_PX
    if inside >= _CLEAR_PX:
        blob = trial.see_one(frame, f"one part of grey {part.grey}")
        _check_found(film, frame, blob, part)
        xx, _, yy = blob.moments
        along, across = (yy, xx) if film.falls.vertical else (xx, yy)
        shape = part.shapes[0]
        for moment, size in ((along, shape.length), (across, shape.width)):
            require(
                abs(moment / (size**2 / 12) - 1) <= _MOMENT,
                f"frame {frame.index}: moments {blob.moments} of a bar standing along the fall",
            )
    elif hidden:
        blobs = trial.see_now(frame)
        require(len(blobs) <= 1, f"frame {frame.index}: {len(blobs)} blobs for less than one part")
    else:
        blob = trial.see_one(frame, f"a part of grey {part.grey} at the edge of the view")
        if inside < -_CLEAR_PX:
            require(
                blob.cut_by_edge, f"frame {frame.index}: cut_by_edge is False for a part cut by it"
            )


def _several_parts(subject: Subject) -> None:
    """Two parts in one view are two blobs."""
    film = subject.film()
    trial = subject.started(film)
    first, second = subject.greys[0], subject.greys[-1]
    for step in range(6):
        parts = [bar(24 + 3.3 * step, 22, first), bar(85 + 4.1 * step, 66, second)]
        frame = film.frame(*parts)
        blobs = sorted(trial.see_now(frame), key=lambda blob: film.centre(blob)[0])
        require(len(blobs) == 2, f"frame {frame.index}: {len(blobs)} blobs for two parts")
        for blob, part in zip(blobs, parts, strict=True):
            _check_found(film, frame, blob, part)


def _bores(subject: Subject) -> None:
    """A washer is one blob, and its bore no part of it."""
    film = subject.film()
    trial = subject.started(film)
    for grey in subject.greys:
        for part, frame in _falling(film, washer, grey):
            if part.inside_by(film.shape) >= _CLEAR_PX:
                _check_found(film, frame, trial.see_one(frame, "one washer"), part)
            else:
                trial.see_now(frame)


def _profiles(subject: Subject) -> None:
    """The profile runs in the order of the image coordinate along the fall."""
    film = subject.film()
    trial = subject.started(film)
    for grey in subject.greys:
        for part, frame in _falling(film, screw, grey):
            if part.inside_by(film.shape) < _CLEAR_PX:
                trial.see_now(frame)
                continue
            blob = trial.see_one(frame, "one screw")
            _check_found(film, frame, blob, part)
            head, shank = film.profile(blob)[3:8].mean(), film.profile(blob)[14:36].mean()
            require(
                abs(head - 24) <= 3 and abs(shank - 12) <= 3,
                f"frame {frame.index}: a screw with a head 24 px wide and a shank 12 px wide, "
                f"head first, has profile {film.profile(blob).tolist()} down the fall",
            )


def _learning_off(subject: Subject) -> None:
    """With learn=False the background is left as it is."""
    film = subject.film()
    trial = subject.started(film)
    for grey in subject.greys:
        part = bar(70.25, 55.5, grey)
        for count in range(1, 201):
            frame = film.frame(part)
            blob = trial.see_one(frame, f"a part standing for {count} frames", learn=False)
            _check_found(film, frame, blob, part)
        blobs = trial.see_now(film.frame())
        require(not blobs, "a part seen with learn=False stays as a ghost once it has gone")


def _frames_not_kept(subject: Subject) -> None:
    """No frame is kept: neither its array nor, once the buffer is used again, its pixels."""
    film = subject.film()
    frames = [film.frame() for _ in range(subject.lead_in)]
    frames += [frame for _, frame in _falling(film, bar, subject.greys[0])]
    plain = list(Trial(subject).answers(frames, subject.lead_in))
    reused = list(Trial(subject).answers_from_one_buffer(frames, subject.lead_in))
    for first, second in zip(plain, reused, strict=True):
        require(
            same_sighting(first, second),
            f"frame {first.index}: the answer changes when the buffers of earlier frames are "
            "used again, or from one fresh detector to the next",
        )
    trial = Trial(subject)
    lead_in = [film.frame() for _ in range(subject.lead_in)]
    kept = [weakref.ref(frame.pixels) for frame in lead_in]
    trial.prime(lead_in)
    for frame in lead_in:
        trial.see(frame)
    del lead_in, frame
    gc.collect()
    held = sum(pixels() is not None for pixels in kept)
    require(not held, f"the pixels of {held} frames are still held after their calls")


def _cut_out_frames(subject: Subject) -> None:
    """A view cut out of a larger picture is answered like any other."""
    film = subject.film()
    frames = [film.frame() for _ in range(subject.lead_in)]
    frames += [frame for _, frame in _falling(film, bar, subject.greys[-1])]
    cut = []
    for frame in frames:
        larger = np.pad(frame.pixels, ((3, 2), (5, 4)), constant_values=7)
        cut.append(with_pixels(frame, larger[3:-2, 5:-4]))
    plain = Trial(subject).answers(frames, subject.lead_in)
    others = Trial(subject).answers(cut, subject.lead_in)
    for first, second in zip(plain, others, strict=True):
        require(
            same_sighting(first, second),
            f"frame {first.index}: the answer depends on how the pixels lie in memory",
        )


def _nothing_shared(subject: Subject) -> None:
    """Two detectors of one maker share no state."""
    require(subject.make() is not subject.make(), "the maker hands out the same detector twice")
    film = subject.film()
    frames = [film.frame() for _ in range(subject.lead_in)]
    frames += [frame for _, frame in _falling(film, bar, subject.greys[0])]
    inverted = [with_pixels(frame, 255 - frame.pixels // 2) for frame in frames]
    alone = list(Trial(subject).answers(frames, subject.lead_in))
    beside = Trial(subject).answers(frames, subject.lead_in)
    other = Trial(subject).answers(inverted, subject.lead_in)
    for first, (second, _) in zip(alone, zip(beside, other, strict=True), strict=True):
        require(
            same_sighting(first, second),
            f"frame {first.index}: the answer changes while another detector runs beside it",
        )


def _primed_with_parts(subject: Subject) -> None:
    """Parts among the first frames leave no ghost and hide no later part."""
    for grey in subject.greys:
        film = subject.film()
        trial = Trial(subject)
        stream = list(_stream(film, grey, max(subject.lead_in, 60)))
        trial.prime(stream)
        for frame in stream:
            trial.see(frame)
        for _ in range(60):
            blobs = trial.see_now(film.frame())
        require(not blobs, "a part among the first frames stays as a ghost")
        for part, frame in _falling(film, bar, grey):
            _check_part(film, trial, part, frame)


def _odd_sizes(subject: Subject) -> None:
    """Pictures of odd, narrow and wide sizes are seen as well."""
    for shape in ((97, 63), (221, 43), (63, 255)):
        film = subject.film(shape)
        trial = subject.started(film)
        for part, frame in _falling(film, bar, subject.greys[0]):
            _check_part(film, trial, part, frame)


_CHECKS: tuple[Callable[[Subject], None], ...] = (
    _plain_answers,
    _empty_view,
    _moving_parts,
    _several_parts,
    _bores,
    _profiles,
    _learning_off,
    _frames_not_kept,
    _cut_out_frames,
    _nothing_shared,
    _primed_with_parts,
    _odd_sizes,
)
