"""Which camera a source stands for."""

from pathlib import Path

import pytest

from viscount.devices.cameras.naming import camera_named

KNOWN = {"device", "stream", "folder", "replay", "scene", "my-cam"}


@pytest.mark.parametrize(
    ("source", "camera", "address"),
    [
        ("0", "device", "0"),
        ("/dev/video2", "device", "/dev/video2"),
        ("http://10.0.0.7:8080/video", "stream", "http://10.0.0.7:8080/video"),
        ("rtsp://phone/live", "stream", "rtsp://phone/live"),
        ("pour.mp4", "replay", "pour.mp4"),
        ("scene.yaml", "scene", "scene.yaml"),
        ("my-cam:serial 7:b", "my-cam", "serial 7:b"),
        ("scene:odd.name", "scene", "odd.name"),
        ("C:\\pour.mp4", "replay", "C:\\pour.mp4"),
        ("other:thing", "replay", "other:thing"),
    ],
)
def test_a_source_by_its_form_or_by_its_name(source: str, camera: str, address: str) -> None:
    assert camera_named(source, KNOWN) == (camera, address)


def test_a_folder_fills(tmp_path: Path) -> None:
    assert camera_named(str(tmp_path), KNOWN) == ("folder", str(tmp_path))


def test_a_stream_by_its_own_name_stays_an_address() -> None:
    assert camera_named("stream://x/y", KNOWN) == ("stream", "stream://x/y")
