"""What every board with a beam must do."""

from viscount.devices.protocol.messages import TOTAL_MS, Greet, Hello, Total
from viscount.devices.protocol.words import Refusal
from viscount.testing.answers import require
from viscount.testing.board.trial import MS, Trial


def check_introduction(trial: Trial) -> None:
    """It says hello after power-on and to each greeting."""
    trial.settle()
    first = trial.heard(Hello)
    trial.greet()
    again = trial.heard(Hello)
    require(
        (first.name, first.firmware, first.has) == (again.name, again.firmware, again.has),
        f"it calls itself {first} and then {again}",
    )


def check_edges(trial: Trial) -> None:
    """It tells every edge, in order, with its time."""
    trial.settle()
    edges_before = trial.heard(Hello).edges
    heads = trial.parts(10)
    trial.wait(10 * 20 + trial.late_ms + 1)
    told = trial.edges()
    require(len(told) == 20, f"10 parts made {len(told)} edges")
    require(
        [edge.seq for edge in told] == [edges_before + 1 + i for i in range(20)],
        f"edges have the numbers {[edge.seq for edge in told]} after {edges_before}",
    )
    require([e.blocked for e in told] == [True, False] * 10, "levels do not go dark, light, dark")
    for i, head_ns in enumerate(heads):
        late_us = (told[2 * i].t_us - told[0].t_us) % 2**32 - (head_ns - heads[0]) // 1000
        require(
            abs(late_us) <= 1000,
            f"head {i + 1} is {late_us} us off from where it was, measured from the first",
        )


def check_totals(trial: Trial) -> None:
    """It tells its totals five times a second, and they are right."""
    trial.settle()
    before = trial.heard(Total)
    trial.parts(10)
    trial.wait(1000 + trial.late_ms)
    told = [m for m in trial.said if isinstance(m, Total)]
    require(len(told) >= 1000 // TOTAL_MS, f"{len(told)} totals in a second")
    after = told[-1]
    grown = (after.edges - before.edges, after.pulses - before.pulses, after.lost - before.lost)
    require(grown == (20, 10, 0), f"10 parts made (edges, pulses, lost) {grown}")


def check_answers(trial: Trial) -> None:
    """It refuses what it does not understand, and goes on."""
    trial.settle()
    refusals = {
        "kind": trial.answer(trial.send_fields("juggle", "3")),
        "a board's kind": trial.answer(trial.send_fields("ok", "1", "1")),
        "fields": trial.answer(trial.send_fields("lamp", "1001")),
        "number of fields": trial.answer(trial.send_fields("ready", "3")),
        "early": trial.answer(trial.send_fields("ready", "3", "3", "0", "100", "100")),
        "leading zero": trial.answer(trial.send_fields("lamp", "01")),
    }
    right = [Refusal.KIND] * 2 + [Refusal.FIELDS] * 4
    require(
        list(refusals.values()) == right, f"lines that are not understood were answered {refusals}"
    )
    trial.state()


def check_noise(trial: Trial) -> None:
    """It takes noise, damaged lines and lines without end for nothing."""
    trial.settle()
    said = len(trial.said)
    for noise in (
        b"\xff" * 5,
        b"\n\n^\n",
        b"^0 0 greet 0000\n",
        b"^0 0 greet 90DE\n",
        b"0 0 greet 90DF\n",
        b"^0 0 greet 90df\n",
        b"^0 0 greet 90DF\r\n",
        b"^00 0 greet 87A6\n",
        bytes(range(11, 256)) * 4,
        b"^" + b"0" * 3000 + b"\n",
        b"^0 0 gre",
    ):
        trial.send_bytes(noise)
        trial.wait(2)
    answered = [m for m in trial.said[said:] if not isinstance(m, Total)]
    require(not answered, f"noise was answered: {answered}")
    trial.greet()
    trial.state()


def check_restart(trial: Trial) -> None:
    """After a reset it is another run: another boot, numbers and counts from nothing."""
    trial.settle()
    trial.parts(2)
    trial.wait(60)
    boot = trial.boot
    trial.said.clear()
    trial.board.reset(trial.now_ns + MS)
    trial.await_hello()
    hello = trial.heard(Hello)
    require(trial.boot != boot, f"boot {boot} again after a reset")
    require(hello.edges == 0, f"{hello.edges} edges counted at its beginning")
    refusal = trial.answer(trial.send_fields("tell"))
    require(refusal is Refusal.NUMBER, f"it took a line before any greeting: {refusal}")
    trial.do(Greet())


BEAM_CHECKS = (
    check_introduction,
    check_edges,
    check_totals,
    check_answers,
    check_noise,
    check_restart,
)
