"""What there is to say of the scale and of the line time.

For each code what it means, in a sentence without figures, and what to do about it.
"""

from typing import Final

TEXTS: Final[dict[str, tuple[str, str]]] = {
    "scales_disagree": (
        "two ways to the scale are further apart than both their uncertainties allow",
        "check the stated sizes, that ruler or board stood where parts fall, the clip's clock "
        "(camera.capture_fps), and camera.line_time_us with camera.readout",
    ),
    "acceleration_unknown": (
        "the fall does not show its acceleration",
        "record parts in free fall one by one, at a higher frame rate, each whole in the view in "
        "six frames or more",
    ),
    "acceleration_varies": (
        "the acceleration changes along the view by more than drag and a small tilt explain",
        "look straight at the fall, drop heavier parts from less high, and let nothing touch "
        "them; else measure the scale with a ruler or by the part",
    ),
    "pattern_stands": (
        "parts come as evenly as frames are taken, so their pattern nearly stands still, and "
        "errors that each place of a picture has do not average out",
        "record parts that are dropped by hand, or at another frame rate, or measure the scale "
        "with a ruler or by the part",
    ),
    "scale_varies": (
        "the scale changes along the fall: one figure does not hold for the whole view",
        "look straight at the fall, from further away",
    ),
    "readout_unknown": (
        "how the sensor is read is not known; along the fall it changes what gravity seems to do",
        "set camera.readout and camera.line_time_us in the outlet file, or turn the camera so that "
        "the readout runs across the fall",
    ),
    "part_size_unclear": (
        "the parts' measured sizes do not show the stated one",
        "give along_fall_mm, or diameter_mm of parts that look the same however they turn",
    ),
    "no_ticks": (
        "the picture shows no ruler, or no checkerboard, as stated",
        "fill the view with it, sharp and evenly lit, the ruler along the fall; of a checkerboard "
        "count the inner corners, where four squares meet",
    ),
    "line_times_disagree": (
        "two ways to the line time are further apart than both their uncertainties allow",
        "check the lamp's frequency, the sensor and its mode, and that the picture is the sensor's "
        "whole height",
    ),
    "line_time_unknown": (
        "the light shows no bands that tell the line time",
        "record an empty view for two seconds under a lamp on the mains, with an exposure of less "
        "than 5 ms",
    ),
    "line_time_by_driver": (
        "the sensor's line time depends on the driver; the figure holds for the one named",
        "confirm it with the bands of a lamp on the mains",
    ),
}
