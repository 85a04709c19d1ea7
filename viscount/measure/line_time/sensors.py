"""Line times of sensors whose data are public.

The row time is line length over pixel rate, from the drivers named; the readout of a mode is its
rows times that, and a picture that was scaled down from it has fewer rows in the same time. Frame
rates that were published agree with rows and blanking to 0.1 % (recalculated from the drivers'
figures). Where drivers differ, or the figure holds for one of them, `by_driver` says so.
"""

from dataclasses import dataclass
from typing import Final

from viscount.codes import Code
from viscount.measure.line_time.estimate import LineBy, LineTime
from viscount.measure.scale.budget import Budget, Input, rectangular
from viscount.values import Level, Notice

SHARE: Final = 0.002
"""Half-width of a sensor's own line time: its oscillator and rounding in the drivers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One mode of a sensor.

    Attributes
    ----------
    width, height : px as the sensor delivers them; lines are rows.
    line_px : line length in pixel clocks; pixel_hz : their rate.
    source : where the figures come from.
    by_driver : in words where the figure holds for one driver only; else empty.
    all_at_once : a global shutter.
    """

    sensor: str
    width: int
    height: int
    line_px: int
    pixel_hz: float
    source: str
    by_driver: str = ""
    all_at_once: bool = False

    @property
    def line_s(self) -> float:
        """From row to row of this mode; 0 for a global shutter."""
        return 0.0 if self.all_at_once else self.line_px / self.pixel_hz


_IMX219 = "Linux driver imx219.c (raspberrypi/linux)"
_OV5647 = "Linux driver ov5647.c with its pixel rates as corrected on linux-media"
_IMX477 = "Linux driver imx477.c (raspberrypi/linux); 840 MHz from memory, agrees with 120.05 fps"
_IMX708 = "Linux driver imx708.c; 13.361 us and 56 fps in the vendor's notes"
_IMX296 = "Linux driver imx296.c (raspberrypi/linux)"

MODES: Final = (
    Mode(sensor="IMX219", width=3280, height=2464, line_px=3448, pixel_hz=182.4e6, source=_IMX219),
    Mode(sensor="IMX219", width=1920, height=1080, line_px=3448, pixel_hz=182.4e6, source=_IMX219),
    Mode(sensor="IMX219", width=1640, height=1232, line_px=3448, pixel_hz=182.4e6, source=_IMX219),
    Mode(
        sensor="IMX219",
        width=640,
        height=480,
        line_px=1724,
        pixel_hz=182.4e6,
        source=_IMX219,
        by_driver="half a line as in 206.65 fps; a driver without that mode takes twice as long",
    ),
    Mode(
        sensor="OV5647",
        width=640,
        height=480,
        line_px=1852,
        pixel_hz=58.333e6,
        source=_OV5647,
        by_driver="older kernels say 55 MHz, 33.67 us; faster modes of other firmware exist",
    ),
    Mode(sensor="OV5647", width=1296, height=972, line_px=1896, pixel_hz=87.5e6, source=_OV5647),
    Mode(sensor="OV5647", width=1920, height=1080, line_px=2416, pixel_hz=87.5e6, source=_OV5647),
    Mode(sensor="OV5647", width=2592, height=1944, line_px=2844, pixel_hz=87.5e6, source=_OV5647),
    Mode(sensor="IMX477", width=1332, height=990, line_px=6664, pixel_hz=840e6, source=_IMX477),
    Mode(sensor="IMX477", width=2028, height=1080, line_px=12740, pixel_hz=840e6, source=_IMX477),
    Mode(sensor="IMX477", width=2028, height=1520, line_px=12740, pixel_hz=840e6, source=_IMX477),
    Mode(sensor="IMX477", width=4056, height=3040, line_px=24000, pixel_hz=840e6, source=_IMX477),
    Mode(sensor="IMX708", width=4608, height=2592, line_px=15648, pixel_hz=595.2e6, source=_IMX708),
    Mode(sensor="IMX708", width=2304, height=1296, line_px=7824, pixel_hz=585.6e6, source=_IMX708),
    Mode(sensor="IMX708", width=1536, height=864, line_px=5216, pixel_hz=566.4e6, source=_IMX708),
    Mode(
        sensor="IMX296",
        width=1456,
        height=1088,
        line_px=1100,
        pixel_hz=74.25e6,
        source=_IMX296,
        all_at_once=True,
    ),
)


def sensor_names() -> tuple[str, ...]:
    """Return the sensors that are known, in the order of the table."""
    return tuple(dict.fromkeys(mode.sensor for mode in MODES))


def modes_of(sensor: str) -> tuple[Mode, ...]:
    """Return the modes of a sensor; none where it is not known."""
    return tuple(mode for mode in MODES if mode.sensor.lower() == sensor.lower())


def sensor_line_time(mode: Mode, lines: int) -> LineTime:
    """Return the line time of a picture of so many lines, scaled from the mode's whole height.

    ``T = T_row rows / lines``: the readout takes as long, however many lines are left of it.
    """
    seconds = mode.line_s * mode.height / lines
    notices: tuple[Notice, ...] = ()
    if mode.by_driver:
        notices = (
            Notice(
                level=Level.DOUBT,
                code=Code.LINE_TIME_BY_DRIVER,
                text=f"{mode.sensor} {mode.width}x{mode.height}: {mode.by_driver}",
            ),
        )
    what = f"{mode.sensor} {mode.width}x{mode.height}: "
    if mode.all_at_once:
        what += "a global shutter"
    else:
        what += f"{1e6 * mode.line_s:.4f} us a row, {1e3 * mode.line_s * mode.height:.2f} ms in all"
        if lines != mode.height:
            what += f", over {lines} lines"
    return LineTime(
        by=LineBy.SENSOR,
        source=mode.source,
        seconds=seconds,
        budget=Budget(inputs=(Input(name="oscillator", u=seconds * rectangular(SHARE)),)),
        what=what,
        notices=notices,
    )
