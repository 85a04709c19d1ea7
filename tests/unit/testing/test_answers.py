from dataclasses import replace

import numpy as np
import pytest

from viscount.codes import Code
from viscount.testing.answers import check_sighting, same_sighting
from viscount.values import Blob, Falls, Frame, Level, Notice, Seeing, Sighting


def row(*values: int, dtype: type = np.uint16) -> np.ndarray:
    profile = np.array(values, dtype)
    profile.flags.writeable = False
    return profile


BLOB = Blob(
    x_px=5.0,
    y_px=6.5,
    sigma_x_px=0.1,
    sigma_y_px=0.1,
    area_px=11.0,
    box=(4, 5, 7, 9),
    moments=(0.6, 0.1, 1.2),
    profile=row(2, 3, 3, 3),
    cut_by_edge=False,
)
FRAME = Frame(index=3, t_ns=40, pixels=np.zeros((20, 30), np.uint8))
SIGHTING = Sighting(index=3, t_ns=40, blobs=(BLOB,), detectable_contrast=8.0)


def with_blob(**changed: object) -> Sighting:
    return replace(SIGHTING, blobs=(BLOB, replace(BLOB, **changed)))


def test_a_whole_answer_passes():
    check_sighting(SIGHTING, FRAME, falls=Falls.DOWN)
    check_sighting(with_blob(box=(4, 5, 7, 9)), FRAME, falls=Falls.UP)
    sideways = with_blob(profile=row(4, 4, 3))
    check_sighting(replace(sideways, blobs=sideways.blobs[1:]), FRAME, falls=Falls.LEFT)
    touching = with_blob(box=(4, 16, 7, 20), y_px=17.0, cut_by_edge=True)
    check_sighting(touching, FRAME, falls=Falls.DOWN)


WHOLE_FAULTS = {
    "no sighting": (None, "returned a NoneType"),
    "index": (replace(SIGHTING, index=4), "has index 4"),
    "time": (replace(SIGHTING, t_ns=41), "has t_ns 41"),
    "state": (replace(SIGHTING, state="seeing well"), "state is 'seeing well'"),
    "contrast not a number": (replace(SIGHTING, detectable_contrast=float("nan")), "contrast"),
    "contrast zero": (replace(SIGHTING, detectable_contrast=0.0), "detectable_contrast is 0.0"),
    "list of blobs": (replace(SIGHTING, blobs=[BLOB]), "blobs must be a tuple of Blob"),
    "odd blobs": (replace(SIGHTING, blobs=(1,)), "blobs must be a tuple of Blob"),
    "list of notices": (replace(SIGHTING, notices=[]), "notices must be a tuple of Notice"),
}
BLOB_FAULTS = {
    "box of arrays": ({"box": tuple(np.array([4, 5, 7, 9]))}, "not four ints"),
    "box of floats": ({"box": (4.0, 5.0, 7.0, 9.0)}, "not four ints"),
    "box of three": ({"box": (4, 5, 7)}, "not four ints"),
    "box outside": ({"box": (4, 17, 7, 21)}, "not half-open within 30 x 20"),
    "box before": ({"box": (-1, 5, 2, 9)}, "not half-open"),
    "box empty": ({"box": (4, 5, 4, 9)}, "not half-open"),
    "centre left": ({"x_px": 3.4}, "outside box"),
    "centre right": ({"x_px": 6.6}, "outside box"),
    "centre above": ({"y_px": 4.4}, "outside box"),
    "centre below": ({"y_px": 8.6}, "outside box"),
    "centre not a number": ({"x_px": float("nan")}, "outside box"),
    "sigma zero": ({"sigma_x_px": 0.0}, "both must be finite"),
    "sigma infinite": ({"sigma_y_px": float("inf")}, "both must be finite"),
    "sigma not a number": ({"sigma_y_px": float("nan")}, "both must be finite"),
    "cut, but is not": ({"cut_by_edge": True}, "cut_by_edge is True"),
    "not cut, but is": ({"box": (4, 16, 7, 20), "y_px": 17.0}, "cut_by_edge is False"),
    "moment negative": ({"moments": (-0.1, 0.0, 1.0)}, "moments"),
    "moments impossible": ({"moments": (1.0, 1.1, 1.0)}, "moments"),
    "moment not a number": ({"moments": (1.0, 0.0, float("nan"))}, "moments"),
    "profile type": ({"profile": row(2, 3, 3, 3, dtype=np.int64)}, "one row of uint16"),
    "profile list": ({"profile": [2, 3, 3, 3]}, "one row of uint16"),
    "profile length": ({"profile": row(5, 6)}, "has 2 entries for a box 4 px long"),
    "profile too wide": ({"profile": row(2, 4, 3, 2)}, "up to 4 px wide in a box 3 px wide"),
    "profile sum": ({"profile": row(2, 3, 3, 2)}, "sums to 10, area is 11.0"),
    "nothing there": ({"profile": row(0, 0, 0, 0), "area_px": 0.0}, "sums to 0"),
    "profile can be written": ({"profile": np.array([2, 3, 3, 3], np.uint16)}, "be written to"),
}
FAULTS = WHOLE_FAULTS | {name: (with_blob(**c), words) for name, (c, words) in BLOB_FAULTS.items()}


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_told_with_its_frame(fault):
    sighting, words = FAULTS[fault]
    with pytest.raises(AssertionError, match=words) as caught:
        check_sighting(sighting, FRAME, falls=Falls.DOWN)
    assert str(caught.value).startswith("frame 3")


def test_equal_answers_are_the_same_to_rounding():
    assert same_sighting(SIGHTING, replace(SIGHTING))
    assert same_sighting(SIGHTING, replace(SIGHTING, blobs=(replace(BLOB, x_px=5.0 + 1e-9),)))


@pytest.mark.parametrize(
    "other",
    [
        replace(SIGHTING, t_ns=41),
        replace(SIGHTING, state=Seeing.BLIND),
        replace(SIGHTING, blobs=()),
        replace(SIGHTING, detectable_contrast=None),
        replace(SIGHTING, detectable_contrast=8.1),
        replace(SIGHTING, notices=(Notice(level=Level.INFO, code=Code.BLIND, text=""),)),
        replace(SIGHTING, blobs=(replace(BLOB, x_px=5.01),)),
        replace(SIGHTING, blobs=(replace(BLOB, sigma_y_px=0.2),)),
        replace(SIGHTING, blobs=(replace(BLOB, box=(4, 5, 7, 10)),)),
        replace(SIGHTING, blobs=(replace(BLOB, profile=row(3, 2, 3, 3)),)),
    ],
)
def test_unlike_answers_are_told_apart(other):
    assert not same_sighting(SIGHTING, other)
