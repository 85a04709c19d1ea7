"""What ``viscount pack`` shows: how it stands, what it comes to, what it would do."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from viscount.packing.order import BagBy, PackOrder
from viscount.packing.record import SCHEMA, BagRecord, Result, record_as_dict
from viscount.packing.totals import Totals
from viscount.seams import GateState, Keeper
from viscount.session.messages import Packing
from viscount.session.plan import LivePlan

POWER = (
    "No command, window or status of this program means that the coil is off. Take its power off\n"
    "before you reach in; the emergency stop acts in hardware.\n"
)
_GATES: Mapping[str, str] = {
    GateState.IDLE: "told: coil off",
    GateState.COOLING: "told: coil off, resting",
    GateState.FAULT: "told: coil off, fault",
}
"""What the board says, which is no more than that."""
_KEYS = "a: set aside | t: top up | p: pause | g: go on | q: stop"
_SWITCH = (
    "The gate opens at once when the board's switch is pressed: take your hands out of outlet and\n"
    "gate first, and look that nobody else's are in.\n"
)


def keys_of(order: PackOrder) -> str:
    """Return what a person's keys mean, and the switch where there is one."""
    if order.bag_by is BagBy.BOARD:
        return f"{_SWITCH}the board's switch: bag in place | {_KEYS}"
    return f"Enter: bag in place | {_KEYS}"


def status_of(now: Packing) -> str:
    """Return how the packing stands, in one line."""
    name = "check pour" if now.bag == 0 else f"bag {now.bag}"
    gate = _GATES.get(now.gate, f"gate {now.gate}")
    return (
        f"{name}: {now.phase} | in the bag {now.in_bag} / wanted {now.wanted} / held {now.held} "
        f"| {gate} | {now.totals.packed} good so far"
    )


def totals_text(totals: Totals, order: PackOrder, journal: object) -> str:
    """Return what a run comes to."""
    kinds = ", ".join(f"{totals.of(one)} {one}" for one in Result if totals.of(one))
    many = "" if totals.bags == 1 else "s"
    lines = [
        f"{totals.bags} bag{many} in this run{': ' if kinds else ''}{kinds}",
        f"{totals.packed} of {order.bags} good bags of {order.each}; "
        f"{totals.parts} parts packed in this run",
        f"journal: {journal}",
    ]
    return "".join(f"{line}\n" for line in lines) + POWER


def totals_json(totals: Totals, records: Sequence[BagRecord], plan: LivePlan) -> str:
    """Return the same as one JSON object."""
    assert plan.pack is not None
    told: dict[str, Any] = {
        "schema": SCHEMA,
        "kind": "totals",
        "bags": totals.bags,
        "good_before": plan.pack.packed,
        "good": totals.packed,
        "wanted": plan.pack.bags,
        "each": plan.pack.each,
        "parts": totals.parts,
        "results": {str(one): totals.of(one) for one in Result},
        "records": [record_as_dict(one) for one in records],
        "journal": str(plan.journal),
    }
    return json.dumps(told, ensure_ascii=False) + "\n"


def dry_text(plan: LivePlan, *, as_json: bool) -> str:
    """Return what a plan would do."""
    order = plan.pack
    assert order is not None
    if as_json:
        told: dict[str, Any] = {"schema": SCHEMA, "kind": "dry_run", "port": plan.beam_port}
        told |= {"journal": str(plan.journal), "order": asdict(order)}
        return json.dumps(told, ensure_ascii=False) + "\n"
    edge = f"part {order.each - order.early}"
    lines = [
        f"would pack {max(order.bags - order.packed, 0)} bags of {order.each}"
        + (f" {order.part}" if order.part else "")
        + f", beginning with bag {order.first_bag}",
        f"would ready the gate for {order.each}: command {order.delay_us / 1000:g} ms after the "
        f"head edge of {edge}, coil on for {order.on_ms} ms at most",
        f"would shut when nothing came for {order.empty_ms} ms, and when the beam stays blocked "
        f"for {order.longest_pulse_us // 1000} ms",
    ]
    if order.check is not None:
        lines.insert(0, f"would begin with a check pour of {order.check}, counted by hand")
    by_switch = order.bag_by is BagBy.BOARD
    waits = "a press of the board's switch" if by_switch else "Enter"
    lines.append(f"would wait for {waits} before each bag, and for keys after any that is not good")
    if order.way is not None:
        way = order.way
        lines.append(
            f"parts take {way.least_us / 1000:.1f} to {way.most_us / 1000:.1f} ms from beam to "
            f"blade; the blade reaches the stream {way.reach_us / 1000:.1f} ms after the command "
            f"at the earliest, and has shut it after {way.shut_us / 1000:.1f} ms"
        )
    judge = "falls into the bag" if order.below_blade else "passes above the blade"
    lines.append(f"the camera counts what {judge}")
    lines.append(f"coil off when this computer is gone: {_kept(order.keeper)}")
    lines.append(f"port {plan.beam_port or '(none given)'}, journal {plan.journal}")
    lines.append("dry run: no port was opened, nothing moved")
    return "".join(f"{line}\n" for line in lines)


def _kept(keeper: Keeper) -> str:
    if keeper is Keeper.PROCESS:
        return "NO: nobody switches it off after kill -9, and no bag will be good"
    return f"by the {keeper}"
