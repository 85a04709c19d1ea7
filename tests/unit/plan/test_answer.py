"""The whole answer: what is needed, and what is there."""

import math

import pytest

from viscount.plan import Answer, Beam, Drop, Gate, Magazine, Need, Shot, Steady, answer

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
    (one,) = [n for n in found.needs if n.name == what]
    return one


def test_exposure_by_the_gap() -> None:
    found = belt(shot=Shot(exposure_s=2e-3))
    sharp, apart = need(found, "exposure_sharp"), need(found, "exposure_apart")
    assert (sharp.needed, sharp.enough) == (pytest.approx(7 / 1500 / 4 * 1e6), False)
    assert (apart.needed, apart.enough) == (pytest.approx(7 / 1500 * 1e6), True)
    (row,) = found.camera
    assert row.blur_mm == pytest.approx(3.0)
    assert row.blur_per_gap == pytest.approx(3 / 7)


def test_rate_and_view() -> None:
    """Whole for (60 - 8) mm at 1500 mm/s: 34.67 ms; three frames in that are 86.5 a second."""
    found = belt(shot=Shot(fps=90.0, view_mm=(20.0, 80.0), scale_px_per_mm=4.0))
    assert need(found, "frame_rate_for_sightings").needed == pytest.approx(3 / (52 / 1500))
    assert need(found, "frame_rate_for_sightings").enough is True
    # Half of the spacing, 7.5 mm, at 1500 mm/s.
    assert need(found, "frame_rate_for_nearness").needed == pytest.approx(200.0)
    assert need(found, "frame_rate_for_nearness").enough is False
    assert need(found, "view_height").needed == pytest.approx(1500 * 3 / 90 + 8)
    (row,) = found.camera
    assert row.sightings == pytest.approx(68 / 1500 * 90)
    assert row.whole_sightings == pytest.approx(52 / 1500 * 90)
    assert row.step_px == pytest.approx(1500 / 90 * 4)
    assert row.displacement_per_spacing == pytest.approx(1500 / 90 / 15)
    assert row.length_px == pytest.approx(32.0)


def test_a_view_that_is_too_low_shows_no_part_whole() -> None:
    found = belt(shot=Shot(fps=90.0, view_mm=(20.0, 26.0)))
    assert found.camera[0].whole_sightings == 0.0
    assert need(found, "frame_rate_for_sightings").needed == math.inf
    assert need(found, "frame_rate_for_sightings").enough is False
    assert need(found, "view_height").enough is False
    unknown = belt(shot=Shot(view_mm=(20.0, 26.0)))
    assert need(unknown, "frame_rate_for_sightings").enough is None


def test_readout() -> None:
    found = belt(shot=Shot(scale_px_per_mm=4.0, line_time_s=120e-6))
    assert found.camera[0].readout_ratio == pytest.approx(1500 * 4 * 120e-6)
    assert need(found, "line_time").needed == pytest.approx(100.0)
    assert need(found, "line_time").enough is False


def test_beam_and_gate() -> None:
    gate = Gate(reach_s=(0.008, 0.009), shut_s=(0.011, 0.012))
    places = {"lip": 0.0, "line": 50.0, "beam": 20.0, "blade": 60.0}
    found = belt(places_mm=places, beam=Beam(width_mm=20.0), gate=gate)
    # Half of its light lost: two parts are one pulse where the gap is below half the width.
    assert need(found, "beam_width").needed == pytest.approx(14.0)
    assert need(found, "beam_width").enough is False
    assert need(found, "gate_stroke").needed == pytest.approx(7 / 1.5)
    assert need(found, "gate_stroke").enough is True
    (one,) = found.cuts
    assert one.gap_s == pytest.approx(7 / 1500)
    assert one.fits is True


def test_the_hardest_pair_decides() -> None:
    column = Magazine(count=60, pitch_mm=5.5, acceleration_mm_s2=2350.0)
    found = belt(stream=column, drop=Drop(), length_mm=5.5, shot=Shot(exposure_s=1e-4))
    gaps = {row.pair: row.gap_s for row in found.heights if row.place == "line"}
    assert min(gaps, key=gaps.__getitem__) == "59, 60"
    assert need(found, "exposure_apart").needed == pytest.approx(gaps["59, 60"] * 1e6)
    assert set(found.gap_ceiling_s) == set(gaps)


def test_what_is_not_known_is_left_open() -> None:
    """Without a counting line nothing is said of the camera, least of all from the lip."""
    found = belt(places_mm={"lip": 0.0}, shot=Shot(exposure_s=1e-3, scale_px_per_mm=4.0))
    assert (found.camera, found.beam, found.cuts, found.empty_s) == ((), (), (), None)
    assert [n.name for n in found.needs if n.needed is not None] == []
    assert all(n.enough is None for n in found.needs)


def test_the_sensor_must_answer_the_shorter_of_dark_and_clear() -> None:
    places = {"lip": 0.0, "beam": 20.0}
    clear = belt(places_mm=places, beam=Beam(response_s=5e-3))
    assert need(clear, "beam_response").needed == pytest.approx(7 / 1500 * 1e6)
    assert need(clear, "beam_response").enough is False
    dark = belt(places_mm=places, length_mm=3.0)
    assert need(dark, "beam_response").needed == pytest.approx(3 / 1500 * 1e6)


def test_a_view_about_the_line_where_none_is_given() -> None:
    """Whole for three frames of a free fall from 900 mm/s, the line in the middle of the view."""
    drop, line = Drop(), 60.0
    stream = Steady(interval_s=0.03, lip_mm_s=900.0)
    for fps, length in ((120.0, 8.0), (60.0, 2.0), (25.0, 8.0)):
        known = {"stream": stream, "drop": drop, "length_mm": length}
        known["places_mm"] = {"lip": 0.0, "line": line}
        height = need(belt(**known, shot=Shot(fps=fps)), "view_height").needed
        assert height is not None
        view = (line - height / 2, line + height / 2)
        seen = belt(**known, shot=Shot(fps=fps, view_mm=view))
        assert seen.camera[0].whole_sightings == pytest.approx(3.0)


def test_a_view_from_above_the_lip_need_only_reach_further_up() -> None:
    shot = Shot(fps=90.0, view_mm=(-10.0, 60.0))
    assert need(belt(shot=shot), "view_height").needed == pytest.approx(10 + 1500 * 3 / 90 + 4)


def test_each_part_keeps_its_own_speed_in_the_cut() -> None:
    """Of a column's first two the second is much faster: their windows, step by step."""
    column = Magazine(count=2, pitch_mm=5.0, acceleration_mm_s2=2000.0)
    drop = Drop(acceleration_mm_s2=9800.0)
    places = {"lip": 0.0, "beam": 10.0, "blade": 40.0}
    (one,) = belt(stream=column, drop=drop, length_mm=4.0, places_mm=places).cuts

    def arrives_s(part: int, centre_mm: float) -> float:
        left, speed = math.sqrt(2 * part * 5.0 / 2000.0), math.sqrt(2 * 2000.0 * part * 5.0)
        return left + (math.sqrt(speed**2 + 2 * 9800.0 * centre_mm) - speed) / 9800.0

    trigger = arrives_s(1, 8.0)
    assert one.clear_s == pytest.approx(arrives_s(1, 42.0) - trigger)
    assert one.arrive_s == pytest.approx(arrives_s(2, 38.0) - trigger)


@pytest.mark.parametrize(("beam", "blade"), [(60.0, 20.0), (30.0, 30.0), (3.0, 60.0)])
def test_no_cut_where_the_beam_cannot_tell_it(beam: float, blade: float) -> None:
    """Below the blade, level with it, or so high that heads are seen before parts are let go."""
    found = belt(places_mm={"lip": 0.0, "beam": beam, "blade": blade})
    assert found.cuts == ()
