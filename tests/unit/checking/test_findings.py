"""Causes and what follows, the contract in JSON, and the judging of single figures."""

import json
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from viscount.checking.causes import parted
from viscount.checking.check_json import check_json
from viscount.checking.examined import Examined
from viscount.checking.figures import (
    ClockFigures,
    LightFigures,
    MotionFigures,
    PictureFigures,
    ReadoutFigures,
    SteadinessFigures,
)
from viscount.checking.finding import Finding, doubt, note, refusal
from viscount.checking.on_clock import ClockEvidence, clock_findings
from viscount.checking.on_count import count_findings
from viscount.checking.on_motion import readout_findings
from viscount.checking.series import Series
from viscount.clips.pace import measure_pace
from viscount.clips.report import ClipReport, Header
from viscount.codes import Code
from viscount.measure.frame_clock import fit_frame_clock
from viscount.values import Level, Notice, Status

SHAKE = doubt(Code.CAMERA_SHAKES, "0.4 px", "less than 0.2 px")
SPECKS = doubt(Code.SPECKS_IN_VIEW, "40 specks")
FEW = refusal(Code.TOO_FEW_SIGHTINGS, "0.7 frames", "3 and more")
ROUNDED = note(Code.TIMES_ROUNDED, "1 ms")


def examined(*found: Finding, **figures: Any) -> Examined:
    findings, notes = parted(found)
    whole = Examined(
        made_by="viscount 0",
        source="clip.mp4",
        outlet=None,
        findings=findings,
        notes=notes,
        clock=ClockFigures(
            read=100,
            rate_hz=120.0,
            header_rate_hz=None,
            capture_tag_hz=None,
            times_step_us=1.0,
            steady=True,
            interval_spread_ms=0.0,
            lost=0,
            gaps=0,
            repeated=0,
            repeated_with_parts=0,
            damaged=0,
        ),
        light=LightFigures(
            level_grey=190.0,
            flicker_percent=None,
            flicker_seen_hz=None,
            light_hz=(),
            light_hz_certain=False,
            rows_per_cycle=None,
            steps_percent=(),
            drift_percent_per_s=-0.0,
            drift_percent=float("nan"),
        ),
        picture=PictureFigures(**dict.fromkeys(PictureFigures.__dataclass_fields__)),
        steadiness=SteadinessFigures(shake_px=None, shake_frames=None, creep_px_s=None),
        motion=MotionFigures(
            **dict.fromkeys(MotionFigures.__dataclass_fields__) | {"parts": 3, "at_rest": 0}
        ),
        readout=ReadoutFigures(line_time_us=None, along_fall=None, pace=None, stretch=None),
    )
    return replace(whole, **figures)


def test_nothing_found():
    assert examined(ROUNDED).status is Status.CLEAN
    assert examined(ROUNDED).summary == "nothing found that would spoil a count"


def test_what_follows_from_a_cause_becomes_a_note():
    findings, notes = parted([SPECKS, SHAKE, ROUNDED])
    assert [one.code for one in findings] == [Code.CAMERA_SHAKES]
    assert [one.code for one in notes] == [Code.SPECKS_IN_VIEW, Code.TIMES_ROUNDED]


def test_what_follows_hides_nothing_itself():
    steps = doubt(Code.LIGHT_CHANGED, "+20 %")
    flicker = doubt(Code.LIGHT_FLICKERS, "4 %")
    none = doubt(Code.NO_BACKGROUND, "too few frames")
    assert [one.code for one in parted([none, steps])[0]] == [Code.LIGHT_CHANGED]
    assert [one.code for one in parted([none, steps, flicker])[0]] == [Code.LIGHT_FLICKERS]
    faint = doubt(Code.CONTRAST_LOW, "10 grey")
    edge = doubt(Code.LINE_NEAR_EDGE, "0 px")
    assert [one.code for one in parted([faint, edge])[0]] == [Code.CONTRAST_LOW]
    left = parted([faint, edge, flicker])[0]
    assert [one.code for one in left] == [Code.LINE_NEAR_EDGE, Code.LIGHT_FLICKERS]


def test_the_gravest_comes_first():
    lost = doubt(Code.FRAMES_LOST, "3 frames")
    whole = examined(lost, FEW)
    assert [one.code for one in whole.findings] == [Code.TOO_FEW_SIGHTINGS, Code.FRAMES_LOST]
    assert whole.status is Status.INVALID
    assert whole.summary == "too few sightings, frames lost"
    assert examined(lost).status is Status.DOUBTFUL


def test_json_is_plain():
    made = check_json(examined(SHAKE, ROUNDED))
    text = json.dumps(made, allow_nan=False)
    assert json.loads(text) == made
    assert made["schema"] == "viscount.check/1"
    assert made["light"]["drift_percent"] is None
    assert str(made["light"]["drift_percent_per_s"]) == "0.0"
    (finding,) = made["findings"]
    assert finding == {
        "level": "doubt",
        "code": "camera_shakes",
        "found": "0.4 px",
        "expected": "less than 0.2 px",
        "where": None,
        "remedy": Code.CAMERA_SHAKES.remedy,
    }


def clock(tag_hz: float | None = None, header_hz: float = 30.0, **more: Any) -> ClockEvidence:
    times = np.rint(np.arange(60) * 1e9 / 30).astype(np.int64)
    header = Header(
        container="mp4",
        codec="h264",
        width=80,
        height=60,
        rate_hz=header_hz,
        capture_tag=None if tag_hz is None else "capture.fps",
        capture_hz=tag_hz,
    )
    report = ClipReport(
        header=header,
        read=60,
        last_t_ns=int(times[-1]),
        damaged=0,
        repeated_at=(),
        untimed=0,
        incomplete=False,
        ended=True,
        pace=measure_pace(times),
    )
    return ClockEvidence(
        report=report,
        clock=fit_frame_clock(times, 1000.0),
        repeated_with_parts=(),
        torn=(),
        capture_given=more.pop("capture_given", False),
        exposure_varies=False,
    )


@pytest.mark.parametrize(
    ("met", "said"),
    [
        (clock(), []),
        (clock(30.0), []),
        (clock(120.0), [("doubt", "capture_rate_tag")]),
        (clock(120.0, capture_given=True), [("info", "capture_rate_tag")]),
        (clock(header_hz=25.0), [("info", "rate_unlike_header")]),
    ],
)
def test_rates(met: ClockEvidence, said: list[tuple[str, str]]):
    assert [(one.level.value, one.code.code) for one in clock_findings(met)] == said


@pytest.mark.parametrize(
    ("pace", "said"),
    [
        (0.59, ("info", "readout_along_fall")),
        (0.61, ("invalid", "readout_keeps_pace")),
        (-0.61, ("doubt", "readout_keeps_pace")),
    ],
)
def test_readout(pace: float, said: tuple[str, str]):
    read = ReadoutFigures(line_time_us=50.0, along_fall=True, pace=pace, stretch=1.5)
    (one,) = readout_findings(read)
    assert (one.level.value, one.code.code) == said
    assert "turn the camera" in one.remedy


def test_a_series_stops_at_its_limit():
    series = Series("a", "b", most=2)
    for number in range(3):
        series.add(a=number, b=-number)
    assert series.full
    assert series["b"].tolist() == [0.0, -1.0]


def test_rounded_times_that_fit_are_a_note():
    times = np.rint(np.arange(60) * 1e3 / 30).astype(np.int64) * 1_000_000
    met = replace(clock(), clock=fit_frame_clock(times, 1_000_000.0))
    said = [(one.level.value, one.code.code) for one in clock_findings(met)]
    assert said == [("info", "times_rounded")]


def late(by: float) -> ClockEvidence:
    """Times that come late by this share of an interval, as a folded normal value has it."""
    interval_ns = 1e9 / 30
    off = np.abs(np.random.default_rng(4).normal(0, by * interval_ns, 240))
    times = np.rint(np.arange(240) * interval_ns + off).astype(np.int64)
    report = replace(clock().report, pace=measure_pace(times))
    return replace(clock(), clock=fit_frame_clock(times, 1000.0), report=report)


def test_times_of_arrival_are_a_doubt():
    """A folded normal value scatters by 0.603 of its sigma (sqrt(1 - 2 / pi))."""
    (one,) = clock_findings(late(0.1))
    assert one.code is Code.TIMES_LATE
    told = re.search(r"by ([0-9.]+) ms about an even clock of ([0-9.]+) ", one.found)
    assert told is not None
    assert float(told[1]) == pytest.approx(0.603 * 0.1 * 1e3 / 30, rel=0.1)
    assert float(told[2]) == pytest.approx(30.0, abs=0.01)
    assert list(clock_findings(late(1e-5))) == []


def wandering() -> ClockEvidence:
    """An interval that varies by a tenth, from frame to frame."""
    intervals = np.random.default_rng(4).normal(1, 0.1, 240) * 1e9 / 30
    times = np.rint(np.cumsum(intervals)).astype(np.int64)
    report = replace(clock().report, pace=measure_pace(times))
    return replace(clock(), clock=fit_frame_clock(times, 1000.0), report=report)


@pytest.mark.parametrize(("varies", "level"), [(False, "doubt"), (True, "info")])
def test_a_rate_that_varies(varies: bool, level: str):
    said = list(clock_findings(replace(wandering(), exposure_varies=varies)))
    assert (level, "clock_varies") in [(one.level.value, one.code.code) for one in said]


def test_what_was_measured_here_is_not_said_again():
    doubted = Notice(level=Level.DOUBT, code=Code.TOO_FEW_SIGHTINGS, text="seen twice")
    refused = Notice(level=Level.INVALID, code=Code.TOO_FEW_SIGHTINGS, text="seen once")
    few = doubt(Code.TOO_FEW_SIGHTINGS, "2.2 frames")
    for said, left in (([few], [refused]), ([FEW], []), ([], [doubted, refused])):
        found = count_findings([doubted, refused], anything=True, said=said)
        assert [one.found for one in found] == [notice.text for notice in left]


@pytest.mark.parametrize(("large", "level"), [(True, "doubt"), (False, "info")])
def test_what_lies_still_matters_where_it_is_as_large_as_a_part(large: bool, level: str):
    lies = Notice(level=Level.INFO, code=Code.PART_AT_REST, text="something lies still")
    (one,) = count_findings([lies], anything=True, at_rest=large)
    assert one.level.value == level


def test_doubts_of_the_count_itself_are_one_note():
    notices = [
        Notice(level=Level.DOUBT, code=Code.PARTS_MERGED, text="2 regions too large"),
        Notice(level=Level.DOUBT, code=Code.PATHS_UNLIKELY, text="surprise 20"),
        Notice(level=Level.DOUBT, code=Code.NO_BACKGROUND, text="too few frames"),
        Notice(level=Level.INFO, code=Code.PARTS_IN_LAST_FRAME, text="1 above the line"),
    ]
    said = [(one.level.value, one.code.code) for one in count_findings(notices, anything=True)]
    assert said == [("doubt", "no_background"), ("info", "count_in_doubt")]


def test_a_clip_in_which_nothing_moves():
    (one,) = count_findings([], anything=False)
    assert one.code is Code.NOTHING_SEEN
    assert list(count_findings([], anything=True)) == []
