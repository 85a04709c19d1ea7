"""The conformance kit for gate triggers: over built-ins and a fake, and what is wrong is found."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from triggers import HeadRig, SerialRig, fake, simulated

from viscount.hooks.loading import load_plugins
from viscount.seams import Keeper, Readiness
from viscount.testing import FakeTrigger, check_gate_trigger, check_gate_trigger_entry
from viscount.testing.board import BoardSettings


@pytest.mark.parametrize(("name", "make"), [("serial", SerialRig), ("simulated", simulated)])
def test_the_built_in_triggers_hold(name: str, make: Callable[[], HeadRig | SerialRig]) -> None:
    entry = load_plugins([]).gate_triggers[name].entry
    check_gate_trigger_entry(entry, make)


def test_a_board_that_drifts_and_starts_late_holds() -> None:
    settings = BoardSettings(on_ms=2000, drift_ppm=80, starts_ms=300, clock_us=2**32 - 400_000)
    check_gate_trigger(lambda: SerialRig(settings))


def test_the_fake_holds() -> None:
    check_gate_trigger(fake)


class OpensItself(FakeTrigger):
    def ready(self, now_ns: int, wanted: Readiness) -> None:
        super().ready(now_ns, wanted)
        self.open(now_ns)


class NeverEnds(FakeTrigger):
    def ready(self, now_ns: int, wanted: Readiness) -> None:
        super().ready(now_ns, replace(wanted, on_ms=1900))


class StaysOpen(FakeTrigger):
    def close(self, now_ns: int) -> None:
        pass


class CountsOneMore(FakeTrigger):
    def ready(self, now_ns: int, wanted: Readiness) -> None:
        super().ready(now_ns, replace(wanted, count=wanted.count + 1))


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        (OpensItself, "the coil is on when it is only ready"),
        (NeverEnds, "The coil is never on for longer"),
        (StaysOpen, "Closing it leaves the coil off"),
        (CountsOneMore, "It shuts by its own count"),
    ],
)
def test_what_is_wrong_is_named(broken: type[FakeTrigger], said: str) -> None:
    with pytest.raises(AssertionError, match=said):
        check_gate_trigger(lambda: HeadRig(broken(on_ms=5000), own_board=False))


def test_the_fake_relies_on_this_process() -> None:
    assert FakeTrigger().harmless.keeper is Keeper.PROCESS
