"""Logs of simulated boards, against what the simulation says of them; nothing is drawn."""

from pathlib import Path

import pytest

from viscount import fall
from viscount.barrier import BeamLaw
from viscount.beam.learning import learn_signature
from viscount.beam.pulses import PulseMaker
from viscount.beam.reading import BeamReading, read_pulses
from viscount.beam.record import BeamRecord
from viscount.beam.signature import signature_of
from viscount.codes import Code
from viscount.devices.beams.log import BeamLog
from viscount.outlet import Part
from viscount.simulate.barrier import write_beam_log
from viscount.simulate.pour import Pour, simulate
from viscount.simulate.scene import Scene
from viscount.simulate.scene.loading import load_scene
from viscount.values import Level, Pulse

SCENES = Path(__file__).parents[3] / "fixtures" / "scenes"
M4X12 = Part(
    shape="screw", overall_length_mm=16.0, diameter_mm=7.0, thickness_mm=4.0, along_fall_mm=16.0
)


def clean(reading: BeamReading) -> bool:
    return all(notice.level is Level.INFO for notice in reading.notices)


def logged(name: str, folder: Path, **board: object) -> tuple[Pour, list[Pulse], BeamRecord]:
    """Simulate a ready scene's beam, write its log, and read that; nothing is drawn."""
    scene = load_scene(SCENES / f"{name}.yaml")
    assert scene.beam is not None
    if board:
        changed = scene.beam.model_copy(update={"board": scene.beam.board.model_copy(update=board)})
        scene = scene.model_copy(update={"beam": changed})
    pour = simulate(scene)
    assert scene.beam is not None
    write_beam_log(folder / "beam.csv", scene.beam, pour.watched, pour.end_s)
    log, maker = BeamLog(folder / "beam.csv"), PulseMaker()
    pulses = [pulse for edge in log.edges() for pulse in maker.feed(edge)]
    pulses += maker.finish(log.end_device_t_ns)
    assert log.notices == ()
    assert maker.record.end_known
    return pour, pulses, maker.record


def of_scene(scene: Scene) -> tuple[float, float, BeamLaw]:
    """Return the speed at the beam in mm/s, the gap it does not resolve, and its law."""
    beam = scene.beam
    assert beam is not None
    law = BeamLaw(width=beam.width_mm, release_s=beam.release_us * 1e-6)
    lip = scene.lip_speed_mm_s
    speed = float(fall.speed_at(lip, fall.STANDARD_GRAVITY_MM_S2, beam.below_lip_mm))
    return speed, law.least_clear(speed), law


def reading_of(
    pour: Pour, pulses: list[Pulse], record: BeamRecord, part: Part, *, ray: bool
) -> BeamReading:
    speed, unresolved, law = of_scene(pour.scene)
    signature = signature_of(part, law, ray=ray)
    return read_pulses(pulses, signature, speed=speed, unresolved=unresolved, record=record)


def test_a_board_in_order_gives_the_sensor_s_own_pulses(tmp_path: Path):
    pour, pulses, record = logged("beam-agrees", tmp_path)
    times = [(a.device_t_ns, b.device_t_ns) for a, b in zip(*[iter(pour.edges)] * 2, strict=True)]
    assert len(pulses) == 15
    for pulse, (start, end) in zip(pulses, times, strict=True):
        assert abs(pulse.start_ns - start) <= 500
        assert abs(pulse.end_ns - end) <= 500
    assert record.notices == ()
    reading = reading_of(pour, pulses, record, M4X12, ray=False)
    assert (reading.parts, reading.low, reading.high, clean(reading)) == (15, 15, 15, True)
    alone = read_pulses(pulses, record=record)
    assert (alone.parts, clean(alone)) == (15, True)


@pytest.mark.parametrize("bounces", [0.3, 0.4, 1.0])
def test_a_board_that_chatters_gives_the_pulses_of_one_that_does_not(
    tmp_path: Path, bounces: float
):
    pour, pulses, record = logged("beam-chatters", tmp_path, bounces=bounces)
    _, quiet, _ = logged("beam-chatters", tmp_path, bounces=0.0)
    assert [(p.start_ns, p.end_ns) for p in pulses] == [(p.start_ns, p.end_ns) for p in quiet]
    assert record.spikes == pour.watched.board.bounces >= 8
    assert record.notices == ()


def test_a_board_that_misses_parts_says_nothing_of_it(tmp_path: Path):
    pour, pulses, record = logged("beam-misses", tmp_path)
    board = pour.watched.board
    assert len(pulses) == board.pulses - board.missed_pulses < 15
    assert record.notices == ()


def test_a_board_that_overflows_tells_by_its_numbers(tmp_path: Path):
    pour, pulses, record = logged("beam-overflows", tmp_path)
    assert record.lost_edges == pour.watched.board.lost_edges > 0
    assert len(pulses) + record.pulses_lost == pour.watched.board.pulses == 15
    reading = reading_of(pour, pulses, record, M4X12, ray=False)
    assert reading.parts == 15
    assert [n.code for n in record.notices] == [Code.BEAM_EDGES_LOST]


def test_a_board_that_restarts_and_wraps(tmp_path: Path):
    pour, pulses, record = logged("beam-restarts", tmp_path)
    assert (record.restarts, record.wraps) == (pour.watched.board.restarts, 1) == (1, 1)
    assert len(pulses) == 15
    true_ns = [edge.t_ns for edge in pour.edges if edge.blocked]
    for epoch in (0, 1):
        own = [p for p in pulses if p.epoch == epoch]
        first = true_ns[own[0].id]
        for pulse in own:
            elapsed = pulse.start_ns - own[0].start_ns
            # The board runs 20 ppm fast, and writes microseconds.
            assert elapsed == pytest.approx((true_ns[pulse.id] - first) * (1 + 20e-6), abs=1001)
    assert [n.code for n in record.notices] == [Code.BEAM_RESTARTED]


def test_parts_that_a_wide_beam_merges(tmp_path: Path):
    pour, pulses, record = logged("beam-merges", tmp_path)
    nut = Part(shape="nut", diameter_mm=7.0, thickness_mm=3.2, bore_mm=4.0)
    assert len(pulses) == 8
    reading = reading_of(pour, pulses, record, nut, ray=False)
    assert [group.parts for group in reading.groups] == [2, 1] * 4
    assert reading.low <= 12 <= reading.high
    alone = read_pulses(pulses, record=record)
    assert [group.parts for group in alone.groups] == [2, 1] * 4
    # A long pulse and a short one in turn are no two walls of a ring.
    assert [n.code for n in alone.notices] == [Code.BEAM_PULSES_MERGED, Code.BEAM_COUNT_UNSURE]


def test_a_ray_beside_the_middle_sees_heads(tmp_path: Path):
    """Some screws it meets at the head alone, some not at all; what it sees are single parts."""
    pour, pulses, record = logged("beam-off-centre", tmp_path)
    reading = reading_of(pour, pulses, record, M4X12, ray=True)
    assert reading.parts == len(pulses) == 13
    assert not clean(read_pulses(pulses, record=record))


def test_washers_through_a_spot(tmp_path: Path):
    """Two pulses through the bore, one beside it: by their sizes, and by what others taught."""
    pour, pulses, record = logged("washers-through-spot", tmp_path)
    assert len(pulses) == 29
    m4 = Part(shape="washer", diameter_mm=9.0, thickness_mm=0.8, bore_mm=4.3)
    reading = reading_of(pour, pulses, record, m4, ray=True)
    assert (reading.parts, reading.low, reading.high, clean(reading)) == (15, 15, 15, True)

    # One part for every 34 ms.
    alone: dict[int, list[Pulse]] = {}
    for pulse in pulses:
        alone.setdefault(round((pulse.start_ns - pulses[0].start_ns) / 34e6), []).append(pulse)
    taught = learn_signature(list(alone.values())[:8])
    assert taught is not None
    assert len(taught.modes[0].darks) == 2
    reading = read_pulses(pulses, taught, record=record)
    assert reading.low <= 15 <= reading.high
    assert reading.parts == 15 or not clean(reading)
    assert not clean(read_pulses(pulses, record=record))
