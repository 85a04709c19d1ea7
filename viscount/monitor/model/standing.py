"""How camera, beam and gate stand, in words, with what to do."""

from dataclasses import dataclass
from enum import StrEnum

from viscount.codes import Code
from viscount.seams import GateState
from viscount.session.messages import BeamNow, Packing, Snapshot

OLD_MS = 200.0


class Shape(StrEnum):
    """What a state looks like, apart from its colour."""

    GOOD = "good"
    DOUBT = "doubt"
    BAD = "bad"
    WAITS = "waits"
    OFF = "off"


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One thing's state.

    Attributes
    ----------
    name : of the thing. words : how it stands. remedy : what to do, or empty.
    """

    name: str
    shape: Shape
    words: str
    remedy: str = ""


def camera_standing(now: Snapshot | None) -> Standing:
    """Return how the camera stands."""
    if now is None:
        return Standing(name="camera", shape=Shape.WAITS, words="waiting for its first pictures")
    if now.camera not in ("on", "opening"):
        return Standing(
            name="camera", shape=Shape.BAD, words=now.camera, remedy=Code.CAMERA_LOST.remedy
        )
    if now.camera == "opening":
        return Standing(name="camera", shape=Shape.WAITS, words="opening")
    rate = "" if now.rate_hz is None else f"{now.rate_hz:.0f} pictures a second"
    if now.dropped:
        words = f"{rate}; {now.dropped} came too fast and were left out"
        remedy = Code.FRAMES_DROPPED.remedy
        return Standing(name="camera", shape=Shape.DOUBT, words=words, remedy=remedy)
    if now.blind_s:
        words = f"{rate}; saw nothing for {now.blind_s:.2f} s so far"
        remedy = Code.FRAMES_LOST.remedy
        return Standing(name="camera", shape=Shape.DOUBT, words=words, remedy=remedy)
    old = ", counted late" if now.age_ms > OLD_MS else ""
    return Standing(
        name="camera", shape=Shape.GOOD, words=f"sees{', ' + rate if rate else ''}{old}"
    )


def beam_standing(now: BeamNow | None) -> Standing:
    """Return how the beam's board stands."""
    if now is None:
        return Standing(
            name="beam", shape=Shape.OFF, words="not connected: the camera counts alone"
        )
    if not now.linked:
        return Standing(
            name="beam",
            shape=Shape.BAD,
            words="its board does not answer",
            remedy=Code.BOARD_SILENT.remedy,
        )
    if now.lost:
        words = f"{now.lost} of its edges were lost on their way"
        remedy = Code.BEAM_EDGES_LOST.remedy
        return Standing(name="beam", shape=Shape.DOUBT, words=words, remedy=remedy)
    return Standing(name="beam", shape=Shape.GOOD, words="its board answers; no edge is missing")


_GATE: dict[str, tuple[Shape, str, str]] = {
    GateState.UNKNOWN: (Shape.BAD, "no answer", "check the board's cable and supply"),
    GateState.IDLE: (Shape.GOOD, "coil off, as the board says", ""),
    GateState.READY: (Shape.WAITS, "ready for its count", ""),
    GateState.OPEN: (Shape.WAITS, "open: coil on", "keep your hands out"),
    GateState.COOLING: (Shape.WAITS, "coil cooling, opens again soon", ""),
    GateState.FAULT: (Shape.BAD, "fault", "take its power off, then look at the blade"),
}


def gate_standing(now: Packing | None) -> Standing:
    """Return how the gate stands."""
    if now is None:
        return Standing(name="gate", shape=Shape.OFF, words="not driven by this run")
    shape, words, remedy = _GATE.get(now.gate, (Shape.DOUBT, now.gate, ""))
    return Standing(name="gate", shape=shape, words=words, remedy=remedy)
