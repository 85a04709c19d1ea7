"""The whole answer: what is needed, and what is there."""

import pytest

from viscount.plan import Answer, Drop, Gate, Magazine, Need, Shot, Steady, answer

BELT = Drop(acceleration_mm_s2=0.0)


def belt(**more: object) -> Answer:
    """Parts of 8 mm every 10 ms at 1500 mm/s: spacing 15 mm, gap 7 mm or 4.67 ms."""
    given = {
        "stream": Steady(interval_s=0.010, lip_mm_s=1500.0),
        "drop": BELT,
        "length_mm": 8.0,
        "places_mm": {"lip": 0.0, "line": 50.0},
        "shot": Shot(),
    }
    return answer(**(given | more))  # type: ignore[arg-type]


def need(found: Answer, what: str) -> Need:
    (one,) = [n for n in found.needs if n.what.startswith(what)]
    return one


def test_exposure_by_the_gap() -> None:
    found = belt(shot=Shot(exposure_s=2e-3))
    sharp, apart = need(found, "exposure, for sharp"), need(found, "exposure, to see")
    assert (sharp.needed, sharp.enough) == (pytest.approx(7 / 1500 / 4 * 1e6), False)
    assert (apart.needed, apart.enough) == (pytest.approx(7 / 1500 * 1e6), True)
    (row,) = found.camera
    assert row.blur_mm == pytest.approx(3.0)
    assert row.blur_per_gap == pytest.approx(3 / 7)


def test_rate_and_view() -> None:
    """Whole for (60 - 8) mm at 1500 mm/s: 34.67 ms; three frames in that are 86.5 a second."""
    found = belt(shot=Shot(fps=90.0, view_mm=(20.0, 80.0), scale_px_per_mm=4.0))
    assert need(found, "frame rate").needed == pytest.approx(3 / (52 / 1500))
    assert need(found, "frame rate").enough is True
    assert need(found, "view").needed == pytest.approx(1500 * 3 / 90 + 8)
    (row,) = found.camera
    assert row.sightings == pytest.approx(68 / 1500 * 90)
    assert row.whole_sightings == pytest.approx(52 / 1500 * 90)
    assert row.step_px == pytest.approx(1500 / 90 * 4)
    assert row.displacement_per_spacing == pytest.approx(1500 / 90 / 15)
    assert row.length_px == pytest.approx(32.0)


def test_a_view_that_is_too_low_shows_no_part_whole() -> None:
    found = belt(shot=Shot(fps=90.0, view_mm=(20.0, 26.0)))
    assert found.camera[0].whole_sightings == 0.0
    assert need(found, "frame rate").needed is None
    assert need(found, "frame rate").enough is None


def test_readout() -> None:
    found = belt(shot=Shot(scale_px_per_mm=4.0, line_time_s=120e-6))
    assert found.camera[0].readout_ratio == pytest.approx(1500 * 4 * 120e-6)
    assert need(found, "line time").needed == pytest.approx(100.0)
    assert need(found, "line time").enough is False


def test_beam_and_gate() -> None:
    gate = Gate(reach_s=(0.008, 0.009), shut_s=(0.011, 0.012))
    places = {"lip": 0.0, "line": 50.0, "beam": 20.0, "blade": 60.0}
    found = belt(places_mm=places, beam_width_mm=20.0, gate=gate)
    # Half of its light lost: two parts are one pulse where the gap is below half the width.
    assert need(found, "width of the beam").needed == pytest.approx(14.0)
    assert need(found, "width of the beam").enough is False
    assert need(found, "time in which").needed == pytest.approx(7 / 1500 * 1e6)
    assert need(found, "stroke").needed == pytest.approx(7 / 1.5)
    assert need(found, "stroke").enough is True
    (one,) = found.cuts
    assert one.gap_s == pytest.approx(7 / 1500)
    assert one.fits is True


def test_the_hardest_pair_decides() -> None:
    column = Magazine(count=60, pitch_mm=5.5, acceleration_mm_s2=2350.0)
    found = belt(stream=column, drop=Drop(), length_mm=5.5, shot=Shot(exposure_s=1e-4))
    gaps = {row.pair: row.gap_s for row in found.heights if row.place == "line"}
    assert min(gaps, key=gaps.__getitem__) == "59, 60"
    assert need(found, "exposure, to see").needed == pytest.approx(gaps["59, 60"] * 1e6)
    assert set(found.gap_ceiling_s) == set(gaps)


def test_what_is_not_known_is_left_open() -> None:
    found = belt(places_mm={"lip": 0.0})
    assert found.camera == ()
    assert found.cuts == ()
    assert need(found, "frame rate").enough is None
