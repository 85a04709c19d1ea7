"""What is to be measured, and by which ways."""

from dataclasses import dataclass
from enum import StrEnum

from viscount import fall
from viscount.errors import UsageError
from viscount.measure.line_time.sensors import Mode, modes_of, sensor_names
from viscount.measure.scale.gravity import TILT_DEG
from viscount.measure.scale.way import By


class Ways(StrEnum):
    """All ways, to the scale and to the line time."""

    GRAVITY = "gravity"
    PART = "part"
    RULER = "ruler"
    CHECKERBOARD = "checkerboard"
    BANDS = "bands"
    SENSOR = "sensor"
    FALL = "fall"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is to be measured.

    Attributes
    ----------
    by : ways that are taken; empty for all that the sources and what is stated allow.
    ruler_mm : from tick to tick of a ruler in the picture.
    corners, square_mm : of a checkerboard, inner corners each way.
    tilt_deg : half-width of the camera's nod along the fall.
    g_mm_s2 : gravity where the outlet stands, where it is known; None for standard gravity with
        what it may be off.
    lights_hz : frequencies at which the light may flicker.
    sensor : name of the camera's sensor; `mode` is (width, height) of its mode.
    frames : first and last frame that are looked at, both included; None for all.
    """

    by: frozenset[Ways] = frozenset()
    ruler_mm: float | None = None
    corners: tuple[int, int] | None = None
    square_mm: float | None = None
    tilt_deg: float = TILT_DEG
    g_mm_s2: float | None = None
    lights_hz: tuple[float, ...] = ()
    sensor: str | None = None
    mode: tuple[int, int] | None = None
    frames: tuple[int, int] | None = None

    def wants(self, way: Ways) -> bool:
        """Whether a way is to be taken, if it can be."""
        return not self.by or way in self.by

    def insists(self, way: Ways | By) -> bool:
        """Whether it was asked for by name."""
        return Ways(way.value) in self.by

    @property
    def gravity_mm_s2(self) -> float:
        """Gravity that is taken."""
        return fall.STANDARD_GRAVITY_MM_S2 if self.g_mm_s2 is None else self.g_mm_s2

    def require_sense(self) -> None:
        """Refuse what does not go together.

        Raises
        ------
        UsageError
        """
        if (self.corners is None) != (self.square_mm is None):
            given, missing = ("--checkerboard", "--square-mm")
            if self.corners is None:
                given, missing = missing, given
            raise UsageError(f"no {missing}", where=given, allowed="both of them, or neither")
        needs = {
            Ways.RULER: (self.ruler_mm, "--ruler-mm, from tick to tick"),
            Ways.CHECKERBOARD: (self.corners, "--checkerboard COLSxROWS with --square-mm"),
            Ways.SENSOR: (self.sensor, f"--sensor with one of {', '.join(sensor_names())}"),
        }
        for way, (value, allowed) in needs.items():
            if way in self.by and value is None:
                raise UsageError("not enough is stated", where=f"--by {way}", allowed=allowed)

    def sensor_mode(self, height: int, width: int) -> Mode | None:
        """Return the mode of the stated sensor that a picture was taken in; None without one.

        Without `mode` it is the only one of the picture's own size, either way up.

        Raises
        ------
        UsageError : the sensor or the mode is not known.
        """
        if self.sensor is None:
            return None
        modes = modes_of(self.sensor)
        if not modes:
            raise UsageError(
                f"the sensor {self.sensor!r}",
                where="--sensor",
                allowed=", ".join(sensor_names()),
                remedy="measure the line time by bands of light instead",
            )
        wanted = {self.mode} if self.mode is not None else {(width, height), (height, width)}
        fitting = [mode for mode in modes if (mode.width, mode.height) in wanted]
        if len(fitting) != 1:
            known = ", ".join(f"{m.width}x{m.height}" for m in modes)
            found = (
                f"no mode {self.mode[0]}x{self.mode[1]}"
                if self.mode is not None
                else f"a picture of {width}x{height}: its mode is not known"
            )
            raise UsageError(
                found, where=f"--sensor {self.sensor}", allowed=f"--mode, one of {known}"
            )
        return fitting[0]
