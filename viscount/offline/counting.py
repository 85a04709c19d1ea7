"""Counting a recording: frames in, a tally out; with a beam log beside it, that of both."""

import math
from collections.abc import Sequence
from pathlib import Path

from viscount.clips.report import ClipReport
from viscount.counters.both import with_beam
from viscount.counters.check_pour import with_hand_count
from viscount.counters.total import with_total
from viscount.devices.cameras.clocked import Clocked
from viscount.devices.cameras.playback import PlaybackCamera
from viscount.devices.cameras.source import open_source
from viscount.devices.cameras.stills import StillsCamera
from viscount.devices.cameras.watcher import Watcher
from viscount.errors import UsageError
from viscount.hooks.loading import load_plugins
from viscount.hooks.registry import Registry
from viscount.offline.bags import gate_seen, with_bags
from viscount.offline.beam_file import beam_seen
from viscount.outlet import Outlet, Part, marked_outlet, marked_part, outlet_with
from viscount.pipeline import PRIMING_FRAMES
from viscount.run import Asked, CameraRun, FrameFigures
from viscount.tally import Tally

DEFAULT_QUIET_S = 1.0


def count(
    source: str | Path,
    *,
    outlet: str | Path | Outlet | None = None,
    part: str | Path | Part | None = None,
    expected: int | None = None,
    settings: Sequence[str] = (),
    quiet_s: float = DEFAULT_QUIET_S,
    registry: Registry | None = None,
    watcher: Watcher | None = None,
    threads: int | None = None,
    beam: str | Path | None = None,
    beam_total: int | None = None,
    hand_count: int | None = None,
    gate_log: str | Path | None = None,
    strokes: str | Path | None = None,
    held: int | None = None,
) -> Tally:
    """Count the parts that cross the line in a recording.

    Parameters
    ----------
    source : a clip of any container, a folder of pictures, or a picture file.
    outlet : outlet file or loaded outlet; without one the line is the middle of the picture
        and parts fall down.
    part : part file or loaded part; stands over the outlet's own.
    expected : the number that ought to be there.
    settings : ``key=value`` texts that stand over the outlet file.
    quiet_s : a pour ends after this long without a moving part.
    registry : loaded plugins; None loads those that are installed.
    watcher : is shown each frame.
    threads : decoder threads; None leaves the choice to the decoder.
    beam : the beam's log of the same pour; the tally is then that of both counters.
    beam_total : a bare number from a machine that shows no more.
    hand_count : how many there were, for a check pour.
    gate_log : the commands to the gate; with the line above the blade they tell the bags apart.
    strokes : the gate's measured strokes, which its log needs where the line is above the blade.
    held : how many parts lay on the shut blade when the recording began.

    Raises
    ------
    viscount.errors.ViscountError : for input that cannot be read or does not fit.

    Examples
    --------
    >>> import viscount
    >>> tally = viscount.count("fixtures/screws/clip.mp4", outlet="fixtures/screws/outlet.yaml")
    >>> tally.count, tally.status.value
    (12, 'clean')
    """
    if not (math.isfinite(quiet_s) and quiet_s > 0):
        raise UsageError(f"a quiet time of {quiet_s:g} s", allowed="more than 0 s")
    if expected is not None and expected < 0:
        raise UsageError(f"an expected count of {expected}", allowed="0 or more")
    _require_one_beam(beam, beam_total)
    if hand_count is not None and hand_count < 0:
        raise UsageError(f"a hand count of {hand_count}", allowed="0 or more")
    outlet, outlet_mark = marked_outlet(outlet)
    outlet, given = outlet_with(outlet, settings)
    part, part_mark = marked_part(part)
    if part is not None:
        outlet = outlet.model_copy(update={"part": part})
    # Before the clip, which may take minutes: a log that cannot be read.
    seen = None if beam is None else beam_seen(beam, outlet)
    gate = gate_seen(gate_log, strokes, held)
    run = CameraRun(outlet, outlet_mark, quiet_s, registry or load_plugins())
    rate = outlet.camera.capture_fps
    with open_source(source, capture_fps=rate, threads=threads, ahead=True) as camera:
        _through(run, camera, outlet, watcher)
        asked = Asked(source=str(camera.path), part=part_mark, given=given, expected=expected)
        tally = run.tally(asked, _figures(camera.report()), camera.notices())
    if seen is not None and tally.set_up is not None:
        tally = with_beam(tally, seen, outlet, tally.set_up)
    if beam_total is not None:
        tally = with_total(tally, beam_total)
    tally = with_bags(tally, outlet, gate)
    return tally if hand_count is None else with_hand_count(tally, hand_count)


def _require_one_beam(beam: str | Path | None, total: int | None) -> None:
    if beam is not None and total is not None:
        raise UsageError(
            "a beam log and a beam total together",
            where="--beam-total",
            allowed="one of --beam and --beam-total",
            remedy="leave the total out: the log says more",
        )
    if total is not None and total < 0:
        raise UsageError(f"a beam total of {total}", where="--beam-total", allowed="0 or more")


def _through(
    run: CameraRun,
    camera: PlaybackCamera | StillsCamera,
    outlet: Outlet,
    watcher: Watcher | None,
) -> None:
    """Feed the whole recording."""
    clocked = Clocked(camera)
    clock = clocked.clock
    opening, frames = clocked.opened(PRIMING_FRAMES)
    sigma_s = 0.0 if clock is None else clock.sigma_frame_s
    run.begin(opening, sigma_frame_s=sigma_s, lossless=clocked.lossless)
    if watcher is not None:
        watcher.start(outlet, run.geometry.line_px, clocked.known_frames)
    for frame in frames:
        run.feed(frame)
        if run.failed:
            break
        if watcher is not None:
            watcher.frame(frame)
    steady = clock is not None and clock.steady
    run.finish(clock_sigma_ns=clock.sigma_ns if clock is not None and steady else 0.0)


def _figures(report: ClipReport) -> FrameFigures:
    return FrameFigures(
        read=report.read,
        lost=report.lost,
        repeated=report.repeated,
        damaged=report.damaged,
        rate_hz=report.rate_hz,
    )
