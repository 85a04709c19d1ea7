"""Our own detectors, cameras and gate triggers, registered through the door that all others use."""

from viscount.hooks.specs import hookimpl
from viscount.seams import Camera, Detector, Entry, GateEntry


@hookimpl
def viscount_detectors() -> list[Entry[Detector]]:
    """Return the detectors that come with the package."""
    from viscount.vision.difference import DifferenceDetector, DifferenceOptions
    from viscount.vision.mixture import MixtureDetector, MixtureOptions

    return [
        Entry(
            api=1,
            name="difference",
            summary="difference from a learned background, darker or brighter; the default",
            options=DifferenceOptions,
            make=DifferenceDetector,
        ),
        Entry(
            api=1,
            name="mixture",
            summary="mixture of Gaussians for each pixel, for backgrounds that move; slower",
            options=MixtureOptions,
            make=MixtureDetector,
        ),
    ]


@hookimpl
def viscount_cameras() -> list[Entry[Camera]]:
    """Return the live cameras that come with the package."""
    from viscount.devices.cameras.device import DeviceCamera, DeviceOptions
    from viscount.devices.cameras.filling import FillingFolderCamera, FillingOptions
    from viscount.devices.cameras.rendered import RenderedCamera, RenderedOptions
    from viscount.devices.cameras.replay import ReplayCamera, ReplayOptions
    from viscount.devices.cameras.stream import StreamCamera, StreamOptions

    return [
        Entry(
            api=1,
            name="device",
            summary="a camera of this computer, through OpenCV",
            options=DeviceOptions,
            make=DeviceCamera,
        ),
        Entry(
            api=1,
            name="stream",
            summary="a network stream: motion JPEG over HTTP, RTSP; a phone as a camera",
            options=StreamOptions,
            make=StreamCamera,
        ),
        Entry(
            api=1,
            name="folder",
            summary="a folder that fills with pictures",
            options=FillingOptions,
            make=FillingFolderCamera,
        ),
        Entry(
            api=1,
            name="replay",
            summary="a recorded clip, replayed in real time",
            options=ReplayOptions,
            make=ReplayCamera,
        ),
        Entry(
            api=1,
            name="scene",
            summary="a simulated pour from a scene file, in real time",
            options=RenderedOptions,
            make=RenderedCamera,
        ),
    ]


@hookimpl
def viscount_gate_triggers() -> list[GateEntry]:
    """Return the gate triggers that come with the package."""
    from viscount.devices.triggers.serial import BY_BOARD, SerialOptions, SerialTrigger
    from viscount.devices.triggers.simulated import (
        BY_ITSELF,
        SimulatedOptions,
        SimulatedTrigger,
    )

    return [
        GateEntry(
            api=1,
            name="serial",
            summary="the beam's own board, over its serial line; it counts and commands",
            options=SerialOptions,
            make=SerialTrigger,
            harmless=BY_BOARD,
        ),
        GateEntry(
            api=1,
            name="simulated",
            summary="a simulated gate, for tests; moves nothing",
            options=SimulatedOptions,
            make=SimulatedTrigger,
            harmless=BY_ITSELF,
        ),
    ]
