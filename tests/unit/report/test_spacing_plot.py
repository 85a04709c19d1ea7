"""The plot of a pour's spacing."""

from pathlib import Path

import numpy as np
import pytest
from counting import outlet
from pours import LIP, Pour, column, pour, without
from tallies import tally

from viscount.measure.heights import Height
from viscount.measure.pour_spacing import At, pour_spacing
from viscount.measure.spaced import Given, Run, Spaced, pooled, spaced
from viscount.report.spacing_plot import spacing_figure, write_spacing
from viscount.report.trains import PlotError

LINE = At(name="line", height=Height(below_line=0.0, sigma=0.0, unit="mm"))


def answer(*pours: Pour) -> Spaced:
    made = tuple(
        pour_spacing(one, [LINE], run=k, lip=LIP, pitch_mm=5.5) for k, one in enumerate(pours)
    )
    runs = tuple(
        Run(tally=tally(), outlet=outlet(), stored=True, pours=1, why="", unknown=()) for _ in pours
    )
    return Spaced(runs=runs, pours=made, pooled=pooled(made))


def test_data_law_and_law_carried_to_the_line_are_drawn() -> None:
    figure = spacing_figure(answer(column(30)))
    course = figure.axes[0]
    labels = course.get_legend_handles_labels()[1]
    assert any("law of the column, at the lip" in one for one in labels)
    assert any("carried to the line" in one for one in labels)
    carried = course.lines[
        [line.get_label() for line in course.lines].index("the same law, carried to the line")
    ]
    drawn = answer(column(30)).pours[0].heights[0].neighbours.interval_s
    assert carried.get_ydata() == pytest.approx(1e3 * drawn, rel=0.01)


def test_faults_are_named_in_the_picture() -> None:
    figure = spacing_figure(answer(without(column(40), 20)))
    texts = [text.get_text() for text in figure.axes[0].texts]
    assert any(one.startswith("missing part") for one in texts)


def test_many_pours_do_not_fill_the_legend() -> None:
    figure = spacing_figure(answer(*[column(10, seed=k) for k in range(8)]))
    assert len(figure.axes[0].get_legend_handles_labels()[1]) <= 5


def test_a_long_pause_makes_the_axis_logarithmic() -> None:
    times = np.append(0.03 * np.arange(10), 5.0 + 0.03 * np.arange(10))
    figure = spacing_figure(answer(pour(times, np.full(20, 1500.0))))
    assert figure.axes[0].get_yscale() == "log"


def test_unknown_gaps_are_said_to_be_so() -> None:
    bare = column(12, ahead=np.full(12, np.nan))
    texts = [text.get_text() for text in spacing_figure(answer(bare)).axes[2].texts]
    assert texts == ["not known"]


def test_nothing_to_draw_and_nowhere_to_write_are_told(tmp_path: Path) -> None:
    with pytest.raises(PlotError, match="nothing to draw"):
        write_spacing(spaced([Given(tally=tally(()), outlet=outlet())]), tmp_path / "plot.png")
    with pytest.raises(PlotError, match="cannot be written"):
        write_spacing(answer(column(8)), tmp_path / "no" / "plot.png")
