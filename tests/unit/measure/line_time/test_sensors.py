"""Line times of known sensors beside the frame rates that were published for them."""

import pytest

from viscount.codes import Code
from viscount.measure.line_time.sensors import Mode, modes_of, sensor_line_time, sensor_names


def mode(sensor: str, width: int) -> Mode:
    return next(m for m in modes_of(sensor) if m.width == width)


@pytest.mark.parametrize(
    ("sensor", "width", "row_us", "readout_ms", "more_rows", "fps"),
    [
        # The rates are published, or follow from the drivers' frame lengths.
        ("IMX219", 3280, 18.9035, 46.578, 32, 21.19),
        ("IMX219", 1640, 18.9035, 23.289, 32, 41.85),
        ("IMX219", 1920, 18.9035, 20.416, 32, 47.57),
        ("IMX219", 640, 9.4518, 4.537, 32, 206.65),
        ("OV5647", 640, 31.7488, 15.239, 504 - 480, 62.50),
        ("OV5647", 1296, 21.6686, 21.062, 1435 - 972, 32.16),
        ("OV5647", 1920, 27.6114, 29.820, 1104 - 1080, 32.80),
        ("OV5647", 2592, 32.5029, 63.186, 1968 - 1944, 15.63),
        ("IMX477", 1332, 7.9333, 7.854, 1050 - 990, 120.05),
        ("IMX477", 4056, 28.5714, 86.857, 3500 - 3040, 10.0),
        ("IMX708", 4608, 26.2903, 68.145, 58, 14.354),
        ("IMX708", 2304, 13.3607, 17.315, 40, 56.0),
        ("IMX708", 1536, 9.2090, 7.957, 40, 120.121),
    ],
)
def test_published_rates(
    sensor: str, width: int, row_us: float, readout_ms: float, more_rows: int, fps: float
):
    one = mode(sensor, width)
    assert 1e6 * one.line_s == pytest.approx(row_us, rel=1e-5)
    assert 1e3 * one.line_s * one.height == pytest.approx(readout_ms, rel=1e-4)
    assert 1 / (one.line_s * (one.height + more_rows)) == pytest.approx(fps, rel=1e-3)


def test_a_picture_scaled_down_has_fewer_and_longer_lines():
    full = sensor_line_time(mode("IMX219", 1640), 1232)
    half = sensor_line_time(mode("IMX219", 1640), 616)
    assert full.seconds is not None
    assert half.seconds == pytest.approx(2 * full.seconds)
    assert "over 616 lines" in half.what
    assert full.notices == ()


@pytest.mark.parametrize(("sensor", "width"), [("IMX219", 640), ("OV5647", 640)])
def test_what_hangs_on_the_driver_says_so(sensor: str, width: int):
    (notice,) = sensor_line_time(mode(sensor, width), 480).notices
    assert notice.code is Code.LINE_TIME_BY_DRIVER


def test_a_global_shutter_has_none():
    found = sensor_line_time(mode("IMX296", 1456), 1088)
    assert found.seconds == 0.0
    assert "global" in found.what


def test_every_figure_has_a_source():
    assert sensor_names() == ("IMX219", "OV5647", "IMX477", "IMX708", "IMX296")
    for name in sensor_names():
        assert all("driver" in one.source for one in modes_of(name))
    assert modes_of("imx219") == modes_of("IMX219")
    assert modes_of("unknown") == ()
