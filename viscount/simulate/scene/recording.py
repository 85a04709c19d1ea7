"""What becomes of frames between the sensor and the file."""

from typing import Annotated, Literal

from pydantic import Field

from viscount.simulate.scene.model import Count, Model, NotNegative, Positive


class Faults(Model):
    """What goes wrong with frames; numbers count from the camera's first frame, 0.

    A dropped frame never arrives. A repeated one shows the picture of the frame before it. A
    torn one shows the frame before it in the half that is read last. A
    damaged one has some bytes of its packet overwritten in the file, where there is a file.
    """

    dropped: tuple[Count, ...] = ()
    repeated: tuple[Annotated[int, Field(ge=1)], ...] = ()
    torn: tuple[Annotated[int, Field(ge=1)], ...] = ()
    damaged: tuple[Annotated[int, Field(ge=1)], ...] = ()


class Recording(Model):
    """How frames are paced, timed and stored.

    Attributes
    ----------
    wander_percent : standard deviation of each frame interval (a variable frame rate).
    rounded_to_us : times in the file are rounded to this; 0 for as they are (1 us).
    late_ms : times are taken late, at arrival, by the size of a normal value with this standard
        deviation.
    slowed : times in the file run this many times slower than real time (slow motion).
    codec : h264, ffv1 (pixels kept) or mjpeg (JPEG pictures).
    quality : crf of h264 (lower is better), qscale of mjpeg (2 best, 31 worst).
    """

    wander_percent: Annotated[float, Field(ge=0, le=30)] = 0.0
    rounded_to_us: NotNegative = 0.0
    late_ms: NotNegative = 0.0
    slowed: Positive = 1.0
    codec: Literal["h264", "ffv1", "mjpeg"] = "h264"
    quality: Annotated[int, Field(ge=1, le=51)] | None = None
    faults: Faults = Faults()
