"""The conformance kit for authors of plugins: plain functions that take a maker, and fakes."""

from viscount.testing.answers import check_sighting
from viscount.testing.cameras import check_camera, check_camera_entry
from viscount.testing.detectors import check_detector
from viscount.testing.entries import check_detector_entry
from viscount.testing.fake_trigger import FakeTrigger
from viscount.testing.fakes import FakeCamera, FakeDetector
from viscount.testing.triggers import (
    TriggerOnTrial,
    check_gate_trigger,
    check_gate_trigger_entry,
)

__all__ = [
    "FakeCamera",
    "FakeDetector",
    "FakeTrigger",
    "TriggerOnTrial",
    "check_camera",
    "check_camera_entry",
    "check_detector",
    "check_detector_entry",
    "check_gate_trigger",
    "check_gate_trigger_entry",
    "check_sighting",
]
