"""Which findings only follow from graver ones: those become notes."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from viscount.checking.finding import Finding
from viscount.codes import Code
from viscount.values import Level

_MOTION = frozenset(
    {
        Code.LINE_NEAR_EDGE,
        Code.SPEED_UNLIKE_SETTING,
        Code.TOO_FEW_SIGHTINGS,
        Code.NOTHING_SEEN,
        Code.SPECKS_IN_VIEW,
        Code.PART_AT_REST,
        Code.PART_STUCK,
        Code.LARGE_IN_VIEW,
        Code.MOTION_BLURRED,
        Code.PARTS_IN_FIRST_FRAME,
        Code.CAPTURE_RATE_SLOWED,
        Code.SIGHTINGS_LEFT_OVER,
    }
)
"""Told from parts that were followed: wrong where they could not be."""

_SCENE = frozenset({Code.NO_BACKGROUND, Code.BLIND, Code.PICTURE_NOISY, Code.CONTRAST_LOW})

# Root causes first: what follows from one hides nothing itself.
_FOLLOWS: Mapping[Code, frozenset[Code]] = {
    Code.LIGHT_FLICKERS: _SCENE | {Code.LIGHT_DRIFTS, Code.LIGHT_CHANGED},
    Code.LIGHT_PULSED: _SCENE | {Code.LIGHT_DRIFTS, Code.LIGHT_CHANGED},
    Code.BACKGROUND_MOVES: _MOTION | _SCENE | {Code.CAMERA_SHAKES},
    Code.CAMERA_SHAKES: _MOTION | _SCENE,
    Code.FRAMES_DAMAGED: _MOTION
    | _SCENE
    | {Code.LIGHT_DRIFTS, Code.RECORDING_INCOMPLETE, Code.FRAMES_TORN},
    Code.CONTRAST_LOW: _MOTION,
    Code.PICTURE_NOISY: frozenset({Code.NOTHING_SEEN, Code.CONTRAST_LOW, Code.SPECKS_IN_VIEW}),
    Code.CLOCK_VARIES: frozenset(
        {
            Code.LINE_NEAR_EDGE,
            Code.SPEED_UNLIKE_SETTING,
            Code.CAPTURE_RATE_SLOWED,
            Code.SIGHTINGS_LEFT_OVER,
        }
    ),
    Code.SPECKS_IN_VIEW: frozenset(
        {
            Code.SIGHTINGS_LEFT_OVER,
            Code.SPEED_UNLIKE_SETTING,
            Code.CAPTURE_RATE_SLOWED,
            Code.TOO_FEW_SIGHTINGS,
        }
    ),
    Code.TOO_FEW_SIGHTINGS: frozenset(
        {
            Code.LINE_NEAR_EDGE,
            Code.SPEED_UNLIKE_SETTING,
            Code.NOTHING_SEEN,
            Code.SPECKS_IN_VIEW,
            Code.CAPTURE_RATE_SLOWED,
            Code.SIGHTINGS_LEFT_OVER,
        }
    ),
    # Where all parts in view are in the old half, a torn frame looks like a repeated one.
    Code.FRAMES_TORN: frozenset(
        {
            Code.FRAMES_REPEATED,
            Code.SPEED_UNLIKE_SETTING,
            Code.LINE_NEAR_EDGE,
            Code.SIGHTINGS_LEFT_OVER,
        }
    ),
    Code.FRAMES_REPEATED: frozenset({Code.SPEED_UNLIKE_SETTING, Code.LINE_NEAR_EDGE}),
    Code.READOUT_KEEPS_PACE: frozenset(
        {Code.TOO_FEW_SIGHTINGS, Code.SPEED_UNLIKE_SETTING, Code.MOTION_BLURRED}
    ),
    Code.LIGHT_CHANGED: frozenset({Code.NO_BACKGROUND, Code.BLIND, Code.LARGE_IN_VIEW}),
    Code.LARGE_IN_VIEW: frozenset(
        {
            Code.BLIND,
            Code.SPECKS_IN_VIEW,
            Code.SPEED_UNLIKE_SETTING,
            Code.CAPTURE_RATE_SLOWED,
            Code.SIGHTINGS_LEFT_OVER,
        }
    ),
    Code.CAPTURE_RATE_SLOWED: frozenset({Code.SPEED_UNLIKE_SETTING}),
    Code.MOTION_BLURRED: frozenset(
        {Code.NOTHING_SEEN, Code.LINE_NEAR_EDGE, Code.SIGHTINGS_LEFT_OVER}
    ),
    Code.NO_BACKGROUND: _MOTION,
    Code.SIGHTINGS_LEFT_OVER: frozenset({Code.SPEED_UNLIKE_SETTING, Code.CAPTURE_RATE_SLOWED}),
}


def parted(found: Iterable[Finding]) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Return findings, the gravest first, and notes; what follows from a finding is a note.

    A cause that follows from another one hides nothing itself.
    """
    told = list(found)
    grave = {one.code for one in told if one.level is not Level.INFO}
    hidden: set[Code] = set()
    for cause in _FOLLOWS:
        if cause in grave and cause not in hidden:
            hidden |= _FOLLOWS[cause] - {cause}
    findings = [one for one in told if one.level is not Level.INFO and one.code not in hidden]
    findings.sort(key=lambda one: one.level is not Level.INVALID)
    notes = [
        replace(one, level=Level.INFO)
        for one in told
        if one.level is Level.INFO or one.code in hidden
    ]
    return tuple(findings), tuple(notes)
