"""Live, with a short lag, pours are counted as their recordings are."""

import json
from pathlib import Path

import pytest

from viscount.agreement.result import Result, result
from viscount.codes import Code
from viscount.devices.cameras.playback import PlaybackCamera
from viscount.motion.prior import geometry_of, motion_prior
from viscount.outlet import Outlet, load_outlet
from viscount.pipeline import PRIMING_FRAMES, Pipeline
from viscount.seams import View
from viscount.simulate.pour import write_pour
from viscount.simulate.scene.loading import load_scene
from viscount.values import Status
from viscount.vision.difference import DifferenceDetector, DifferenceOptions

READY = Path(__file__).parents[2] / "fixtures" / "scenes"
DRAWN = Path(__file__).parent / "drawn"
LAG_NS = 100_000_000


def counted_live(clip: Path, outlet: Outlet) -> Result:
    """Feed a clip frame by frame, as a camera does."""
    with PlaybackCamera(clip, threads=1) as camera:
        frames = list(camera.frames())
    geometry = geometry_of(outlet, *frames[0].pixels.shape)
    detector = DifferenceDetector(DifferenceOptions(), View(falls=outlet.falls))
    pipeline = Pipeline(detector, geometry, motion_prior(outlet, geometry), lag_ns=LAG_NS)
    pipeline.prime(frames[:PRIMING_FRAMES])
    found = [one for frame in frames for one in pipeline.feed(frame)] + pipeline.finish()
    return result(found, pipeline.notices, frames[0].t_ns)


@pytest.mark.parametrize(
    "path",
    [
        *(READY / f"{name}.yaml" for name in ("steady-glint", "bounce", "gate-held")),
        *(DRAWN / f"{name}.yaml" for name in ("column-seen-twice", "corner-or-speck")),
    ],
    ids=lambda path: path.stem,
)
def test_a_pour_is_counted_live_as_its_recording_is(path: Path, tmp_path: Path) -> None:
    """Pieces of one part that are judged a moment apart; a part that comes back up; one that comes
    to lie beside another, on the line; a column of which most parts are seen whole but twice; dust
    at the border that a part passes."""
    written = write_pour(load_scene(path), tmp_path)
    truth = json.loads(written.truth.read_text(encoding="utf-8"))
    true = sum(part["line_t_ns"] is not None for part in truth["parts"])
    found = counted_live(written.clip, load_outlet(written.outlet))
    assert (found.count, found.status) == (true, Status.CLEAN)


@pytest.mark.parametrize("name", ["half-speed", "half-the-steps"])
def test_a_stream_that_half_its_speed_explains_as_well_is_doubted_live(
    name: str, tmp_path: Path
) -> None:
    """By its front and its tail, where nothing but line and direction is stated."""
    written = write_pour(load_scene(DRAWN / f"{name}.yaml"), tmp_path)
    full = load_outlet(written.outlet)
    bare = Outlet.model_validate({"view": {"falls": full.falls, "line_px": full.view.line_px}})
    found = counted_live(written.clip, bare)
    assert Code.PATHS_UNLIKELY in {reason.code for reason in found.reasons}
