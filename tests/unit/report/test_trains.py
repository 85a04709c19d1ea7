"""The plot of both counters."""

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from tallies import paired, pairing, passage, pulse, tally

from viscount.report.stretches import AROUND, MOST_IN_PANEL, MOST_PANELS, panels
from viscount.report.trains import (
    NoPlottingError,
    PlotError,
    require_plotting,
    trains_figure,
    write_trains,
)
from viscount.tally import Tally
from viscount.values import Pairs


def texts(made: Tally) -> list[str]:
    figure = trains_figure(made)
    found = [text.get_text() for axis in figure.axes for text in axis.texts]
    (legend,) = figure.legends
    return [*found, *(text.get_text() for text in legend.get_texts())]


def long_run(parts: int, odd: set[int], pour: int = 1) -> Tally:
    """A run of so many parts, every one seen by both but the odd ones."""
    at = {k: 0.5 + 0.02 * k for k in range(parts)}
    pairings = []
    for k, t in at.items():
        if k in odd:
            pairings.append(pairing(Pairs.CAMERA_ONLY, t, passages=(k,)))
        else:
            pairings.append(pairing(Pairs.AGREED, t, passages=(k,), pulses=(k,), late_ns=0))
    return paired(
        passages=tuple(passage(k, t - 0.02) for k, t in at.items()),
        pulses=tuple(pulse(k, t) for k, t in at.items() if k not in odd),
        pairings=tuple(replace(one, pour=pour) for one in pairings),
    )


def test_each_difference_is_named_and_told_in_the_legend():
    found = texts(paired())
    assert {"2 in 1", "no pulse", "not seen"} <= set(found)
    assert {"agreed", "several parts in one pulse", "camera only", "beam only"} <= set(found)


def test_only_what_occurs_is_in_the_legend():
    found = texts(long_run(5, set()))
    assert "agreed" in found
    assert not {"camera only", "beam only", "camera blind"} & set(found)


def test_passages_stand_where_they_reach_the_beam():
    (panel,), left_out = panels(paired())
    agreed, merged, camera, beam = panel.drawn
    assert left_out == 0
    assert agreed.due_s == (pytest.approx(0.49998),)
    assert agreed.pulses_s == ((0.5, pytest.approx(0.5053)),)
    assert merged.due_s == (pytest.approx(0.52498), pytest.approx(0.52898))
    assert camera.due_s == (pytest.approx(0.56),)
    assert (beam.due_s, beam.start_s) == ((), pytest.approx(0.6))


def test_a_long_pour_is_drawn_where_the_counters_differ():
    shown, left_out = panels(long_run(400, {100, 103, 300}))
    assert left_out == 0
    assert [len(panel.drawn) for panel in shown] == [2 * AROUND + 4, 2 * AROUND + 1]
    assert shown[0].title == "pairings 95 to 110 of 400"


def test_a_long_pour_without_a_difference_shows_its_start_and_says_so():
    ((panel,), left_out) = panels(long_run(400, set()))
    assert (len(panel.drawn), left_out) == (MOST_IN_PANEL, 0)
    assert "none of them differs" in panel.title


def test_of_very_many_differences_the_first_are_drawn_and_the_rest_numbered():
    shown, left_out = panels(long_run(2000, set(range(20, 2000, 100))))
    assert (len(shown), left_out) == (MOST_PANELS, 10)
    figure = trains_figure(long_run(2000, set(range(20, 2000, 100))))
    assert any("10 more stretches" in text.get_text() for text in figure.texts)


def test_clocks_that_could_not_be_fitted_leave_a_picture_that_says_so(tmp_path: Path):
    lost = pairing(Pairs.AMBIGUOUS, 0.0, pulses=(0,), parts=0, doubt=1.0, t_ns=None)
    made = paired(pulses=(replace(pulse(0, 0.5), captured_ns=None),), pairings=(lost,))
    assert panels(made) == ([], 0)
    write_trains(made, tmp_path / "plot.png")
    assert (tmp_path / "plot.png").stat().st_size > 0


def test_differences_differ_from_the_rest_in_grey_too(tmp_path: Path):
    """Beside an agreed pulse, dark all over, merged and lone ones are light with hatching."""
    write_trains(paired(), tmp_path / "plot.png")
    grey = cv2.imread(str(tmp_path / "plot.png"), cv2.IMREAD_GRAYSCALE)
    figure = trains_figure(paired())
    axis = figure.axes[0]
    height = grey.shape[0]
    scale = grey.shape[1] / figure.bbox.width

    def mean_grey(start_s: float, end_s: float) -> float:
        (x0, y0), (x1, y1) = axis.transData.transform([(start_s, 0.04), (end_s, 0.16)]) * scale
        box = grey[round(height - y1) : round(height - y0), round(x0) + 2 : round(x1) - 2]
        return float(np.mean(box))

    assert mean_grey(0.5, 0.5053) < 60
    assert mean_grey(0.525, 0.534) > 110
    assert mean_grey(0.6, 0.6053) > 110


def test_blind_times_are_shaded():
    blind = replace(paired().frames, blind=((0.5, 0.52),))
    assert "camera blind" in texts(paired(frames=blind))


def test_a_count_of_one_or_none_has_its_title():
    titles = [trains_figure(made).texts[0].get_text() for made in (paired(), paired(count=1))]
    assert titles == ["pour.mp4: 5 parts, clean", "pour.mp4: 1 part, clean"]
    assert "no count" in trains_figure(paired(count=None)).texts[0].get_text()


def test_a_place_that_cannot_be_written(tmp_path: Path):
    with pytest.raises(PlotError, match="cannot be written"):
        write_trains(paired(), tmp_path / "missing" / "plot.png")
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def without_matplotlib(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    return


@pytest.mark.usefixtures("without_matplotlib")
def test_without_the_library_the_error_names_the_extra():
    with pytest.raises(NoPlottingError, match="extra `report`"):
        require_plotting()


def test_a_tally_without_a_beam_has_no_panels():
    assert panels(tally()) == ([], 0)
