from dataclasses import replace

import pytest
from boards import BAG, MS, UNTIRING, Host, opened, written

from viscount.devices.protocol.fields import Has
from viscount.devices.protocol.messages import (
    BladeMoved,
    FaultTold,
    Greet,
    Open,
    Opened,
    Over,
    Renew,
    Shut,
    StateTold,
    Tell,
)
from viscount.devices.protocol.numbered import Heard, NumberedLines
from viscount.devices.protocol.states import FAULTS, TRANSITIONS, Happening, after
from viscount.devices.protocol.words import Cause, FaultReason, Refusal, State
from viscount.testing.board import BladeMove, CoilChange, Place, SimulatedBoard

RESTING = replace(UNTIRING, on_ms=1000, duty_percent=50)
"""A board whose coil rests for as long as it was on, and for a second after a reset."""


def in_state(state: State) -> Host:
    host = Host(RESTING).to(1000).on(1005, Greet(), Renew())
    match state:
        case State.READY:
            host.on(1010, BAG)
        case State.OPEN:
            host.on(1010, BAG, Open()).to(1012)
        case State.COOLING:
            host.on(1010, BAG, Open()).on(1025, Shut())
        case State.FAULT:
            host.on(1010, BAG, Open()).to(1255)
        case State.IDLE:
            pass
    assert host.board.state is state
    host.said.clear()
    return host


def bring_about(host: Host, happening: Happening) -> None:
    """Have something happen to a gate, as it would."""
    now = host.now_ns / MS
    match happening:
        case Happening.GREET | Happening.SHUT | Happening.OPEN:
            line = {"greet": Greet(), "shut": Shut(), "open": Open()}[happening]
            host.on(now, line)
        case Happening.READY:
            host.on(now, BAG)
        case Happening.WRONG_NUMBER:
            host.number += 1
            host.on(now, Renew())
        case Happening.CUT:
            for i in range(3):
                host.part(now + 1 + 10 * i)
            host.to(now + 30)
        case Happening.LIMIT | Happening.EXPIRY:
            for ms in range(50, 720, 50):
                host.on(now + ms, Renew())
                if host.of(Over):
                    break
        case Happening.LEASE:
            host.to(now + 260)
        case Happening.JAM:
            host.board.jam()
            host.to(now + 90)
        case Happening.COOLED:
            host.to(now + 50)
        case Happening.RESET:
            host.board.reset(host.now_ns + MS)
            host.board.step(host.now_ns + MS)


PAIRS = [
    (state, happening)
    for state in State
    for happening in Happening
    # What a state has no clock for cannot be brought about in it; a fault's blade has its own test.
    if (state, happening) in TRANSITIONS or happening is Happening.WRONG_NUMBER
    if (state, happening) != (State.FAULT, Happening.JAM)
]


@pytest.mark.parametrize(("state", "happening"), PAIRS)
def test_the_gate_does_what_the_table_says(state: State, happening: Happening):
    host = in_state(state)
    step = after(state, happening)
    bring_about(host, happening)
    assert host.board.state is step.to
    assert (bool(host.coil) and host.coil[-1][1]) is (step.to is State.OPEN)
    assert [over.cause for over in host.of(Over)] == ([step.over] if step.over else [])
    if step.refusal:
        assert host.refusals() == [step.refusal]
    if step.to is State.FAULT and state is not State.FAULT:
        assert [one.reason for one in host.of(FaultTold)] == [FAULTS[happening]]


def test_a_blade_that_stays_open_in_a_fault_is_another_fault():
    host = opened().to(40)
    host.board.jam()
    host.to(400)
    assert [one.reason for one in host.of(FaultTold)] == [FaultReason.LEASE, FaultReason.JAM]
    assert host.board.state is State.FAULT


def test_every_pair_that_is_not_listed_changes_nothing():
    tried = {pair for pair in PAIRS if pair not in TRANSITIONS}
    assert tried == {(s, Happening.WRONG_NUMBER) for s in (State.IDLE, State.COOLING, State.FAULT)}
    assert (State.READY, Happening.JAM) not in TRANSITIONS


def test_the_cut_comes_after_the_part_that_triggers_and_its_delay():
    for early, cut_ms in ((0, 34), (1, 24), (2, 14)):
        host = opened(bag=replace(BAG, early=early))
        for i in range(5):
            host.part(10.5 + 10 * i)
        for ms in range(11, 100):
            host.to(ms)
        assert host.coil == [(10, True), (cut_ms + 0.5, False)]
        (over,) = host.of(Over)
        assert (over.cause, over.count, over.t_us) == (Cause.COUNT, 3 - early, cut_ms * 1000 + 500)


def test_parts_count_from_the_readiness_on():
    host = Host().on(5, Greet(), Renew())
    host.part(6)
    host.to(9).on(10, BAG)
    host.part(11)
    host.to(15).on(20, Open())
    host.part(21)
    host.part(31)
    host.to(60)
    assert host.coil == [(20, True), (35, False)]


def test_a_bag_that_is_full_already_is_not_opened():
    host = Host().on(5, Greet(), Renew()).on(10, BAG)
    for i in range(3):
        host.part(11 + 8 * i)
    host.to(40).on(41, Open())
    assert host.refusals() == [Refusal.COUNTED]
    assert host.coil == []


@pytest.mark.parametrize("has", [Has(True, False, False, False), Has(False, True, False, False)])
def test_a_bag_needs_beam_and_gate(has: Has):
    host = Host(replace(UNTIRING, has=has)).on(5, Greet(), Renew(), BAG)
    assert host.refusals() == [Refusal.ABSENT]


def test_the_lease_ends_250_ms_after_the_last_renewal_on_the_board_s_clock():
    for drift_ppm, ends_ms in ((0.0, 350.0), (100.0, 349.975002), (-100.0, 350.025003)):
        host = opened(replace(UNTIRING, drift_ppm=drift_ppm)).on(100, Renew())
        host.to(600)
        assert host.coil == [(10, True), (pytest.approx(ends_ms, abs=1e-5), False)]
        assert host.of(Over)[0].cause is Cause.LEASE


def test_a_renewal_as_the_lease_ends_is_too_late():
    host = opened().on(255, Renew()).to(300)
    assert host.coil == [(10, True), (255, False)]


@pytest.mark.parametrize(("ms", "refusals"), [(254.999, []), (255, [Refusal.LEASE])])
def test_a_readiness_as_the_lease_ends_is_too_late(ms: float, refusals: list[Refusal]):
    assert Host().on(5, Greet(), Renew()).on(ms, BAG).refusals() == refusals


def test_a_renewal_in_good_time_is_taken():
    assert opened().on(254.999, Renew()).to(300).coil == [(10, True)]


def test_the_coil_rests_as_its_duty_asks():
    host = opened(replace(UNTIRING, duty_percent=25), bag=BAG)
    assert host.refusals() == [Refusal.COOLING] * 2
    host = Host(replace(UNTIRING, duty_percent=25)).to(30_000)
    host.on(30_001, Greet(), Renew(), BAG, Open()).on(30_201, Shut(), Renew(), BAG)
    host.on(30_401, Renew()).on(30_601, Renew()).on(30_800, Renew(), BAG).on(30_801, BAG)
    assert host.refusals() == [Refusal.COOLING] * 2
    assert host.board.state is State.READY


def test_it_rests_after_a_reset_for_as_long_as_the_longest_time_on_asks():
    host = Host(replace(UNTIRING, on_ms=1000, duty_percent=50))
    host.to(999.999)
    assert host.board.state is State.COOLING
    host.to(1000)
    assert host.board.state is State.IDLE


def test_the_blade_follows_within_its_spread():
    settings = replace(UNTIRING, opens_ms=(6, 8), reach_ms=(9, 11), shut_ms=(12, 20))
    reach, shut = [], []
    for seed in range(60):
        board = SimulatedBoard(settings, seed=seed)
        board.step(5 * MS, written(Greet(), 0, 0) + written(Renew(), 1))
        board.step(10 * MS, written(BAG, 2) + written(Open(), 3))
        board.step(50 * MS, written(Shut(), 4))
        board.step(100 * MS)
        open_, reached, closed = board.blade_log
        assert (open_.place, reached.place, closed.place) == tuple(Place)
        assert 16 * MS <= open_.t_ns <= 18 * MS
        reach.append(reached.t_ns / MS - 50)
        shut.append(closed.t_ns / MS - 50)
    assert 9 <= min(reach) < 9.2
    assert 10.8 < max(reach) <= 11
    assert 12 <= min(shut) < 12.6
    assert 19.4 < max(shut) <= 20
    assert len(set(shut)) == 60


def test_the_same_seed_gives_the_same_times():
    one, other = (opened().on(50, Shut()).to(100).board.blade_log for _ in range(2))
    assert one == other != ()
    assert isinstance(one[0], BladeMove)


def test_the_shut_sensor_tells_what_the_blade_does():
    host = opened().on(50, Shut()).to(100)
    assert [one.shut for one in host.of(BladeMoved)] == [False, True]
    unseen = opened(replace(UNTIRING, has=Has(True, True, True, False))).on(50, Shut()).to(100)
    assert unseen.of(BladeMoved) == []


def test_a_jam_is_a_fault_until_it_is_free():
    host = opened().to(40)
    host.board.jam()
    host.on(50, Shut()).to(109)
    assert host.board.state is State.COOLING
    host.to(110)
    assert [one.reason for one in host.of(FaultTold)] == [FaultReason.JAM]
    host.on(111, Shut()).to(171)
    assert host.board.state is State.FAULT
    host.board.jam(jammed=False)
    host.on(172, Shut()).to(230)
    assert host.board.state is State.IDLE


def test_a_blade_that_does_not_leave_is_a_jam_too():
    host = Host().on(5, Greet(), Renew()).on(10, BAG)
    host.board.jam()
    host.on(10, Open()).to(71)
    assert host.coil == [(10, True), (70, False)]
    assert [one.cause for one in host.of(Over)] == [Cause.JAM]


def test_a_reset_switches_the_coil_off_and_begins_another_boot():
    host = opened().to(30)
    host.part(31)
    host.board.reset(40 * MS)
    host.board.step(60 * MS)
    assert host.coil == [(10, True), (40, False)]
    data = host.board.step(61 * MS, written(Greet(), 9, 0))
    (first, *_), lines = NumberedLines().feed(data), data.splitlines()
    assert isinstance(first, Heard)
    assert first.line.boot == 2
    assert b" hello 1 simulated 1.0 1000 bgls 21000 0 0 " in lines[1]


def test_opening_the_port_resets_only_boards_that_it_resets():
    for resets in (False, True):
        host = opened(replace(UNTIRING, resets_on_open=resets)).to(30)
        host.board.open_port(31 * MS)
        host.board.step(40 * MS)
        assert host.coil == [(10, True)] + [(31, False)] * resets


def test_the_state_is_told():
    host = opened().to(20)
    host.part(30)
    host.to(40).on(50, Tell())
    assert host.of(StateTold) == [
        StateTold(
            t_us=50_000,
            state=State.OPEN,
            coil=True,
            wanted=3,
            count=1,
            lease_ms=205,
            fault=FaultReason.NONE,
        )
    ]
    assert host.of(Opened) == [Opened(t_us=10_000)]


def test_coil_changes_are_values():
    assert opened().board.coil_log == (CoilChange(t_ns=10 * MS, on=True),)


def test_the_blade_never_shuts_before_it_reaches():
    spread = replace(UNTIRING, opens_ms=(1, 2), reach_ms=(10, 20), shut_ms=(10, 20))
    for seed in range(20):
        board = SimulatedBoard(spread, seed=seed)
        board.step(5 * MS, written(Greet(), 0, 0) + written(Renew(), 1))
        board.step(10 * MS, written(BAG, 2) + written(Open(), 3))
        board.step(50 * MS, written(Shut(), 4))
        board.step(100 * MS)
        _, reached, closed = board.blade_log
        assert (reached.place, closed.place) == (Place.REACHED, Place.SHUT)
        assert reached.t_ns <= closed.t_ns
