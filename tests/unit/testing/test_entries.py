from typing import Any

import pytest

from viscount.seams import Detector, Entry, Options, View
from viscount.testing import FakeDetector, check_detector_entry
from viscount.values import Falls


class Step(Options):
    step: float = 20.0


def entry(make: Any = None, **changed: Any) -> Entry[Detector]:
    make = make or (lambda options, view: FakeDetector(view, step=options.step))
    usual = {"api": 1, "name": "fake", "summary": "s", "options": Step, "make": make}
    return Entry(**(usual | changed))


def test_an_entry_is_checked_for_all_four_falls():
    seen: list[tuple[Falls, float]] = []

    def make(options: Step, view: View) -> FakeDetector:
        seen.append((view.falls, options.step))
        return FakeDetector(view, step=options.step)

    check_detector_entry(entry(make), Step(step=25.0), lead_in=20, dark_parts=False)
    assert set(seen) == {(falls, 25.0) for falls in Falls}


def test_an_entry_that_would_be_refused_is_convicted_first():
    with pytest.raises(AssertionError, match="plugin interface 2"):
        check_detector_entry(entry(api=2))


def test_an_entry_whose_detector_fails_one_direction_is_convicted():
    with pytest.raises(AssertionError, match="falls left"):
        check_detector_entry(
            entry(lambda options, view: FakeDetector(View(falls=Falls.UP))), lead_in=20
        )
