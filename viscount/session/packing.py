"""From an outlet and a journal to an order of bags, and to what packs them."""

from collections.abc import Callable
from dataclasses import replace

from viscount.agreement.statements import counted_at
from viscount.clock import Clock
from viscount.errors import UsageError
from viscount.fall import STANDARD_GRAVITY_MM_S2, speed_at, time_to
from viscount.gate.strokes import Strokes
from viscount.hooks.registry import Registry
from viscount.outlet import MotionKind, Outlet
from viscount.packing.machine import PackMachine
from viscount.packing.order import BagBy, PackOrder, Way
from viscount.seams import Fitting
from viscount.session.gate_desk import GateDesk
from viscount.session.journal import Journal, Past
from viscount.session.messages import Packing
from viscount.session.packer import Packer
from viscount.session.plan import LivePlan
from viscount.session.pour_pairs import PourPairs

USUAL_TOLERANCE_PERCENT = 10.0
_G_TOLERANCE = 0.05
"""Drag takes up to 4 % of a flat washer's acceleration, and gravity varies by 0.3 % with place."""

Tell = Callable[[Packing], None]


def packer_for(plan: LivePlan, registry: Registry, clock: Clock, tell: Tell) -> Packer:
    """Return what packs the bags of a plan; it moves nothing before a person's word.

    Raises
    ------
    viscount.errors.ViscountError : trigger or journal cannot be used.
    """
    order = plan.pack
    if order is None or plan.journal is None:
        raise UsageError("packing without an order or a journal")
    desk = GateDesk(switch=order.bag_by is BagBy.BOARD)
    trigger = registry.gate_trigger_for(plan.outlet, Fitting(line=desk))
    journal = Journal(plan.journal)
    # Another run may have added to it since the plan was made.
    order = continued(order, journal.past, check=order.check)
    order = replace(order, keeper=trigger.harmless.keeper)
    pairs = PourPairs(plan.outlet)
    return Packer(PackMachine(order, pairs), pairs, trigger, desk, journal, clock, tell)


def below_blade(outlet: Outlet) -> bool:
    """Return whether the counting line is known to be below the blade."""
    line_px = outlet.view.line_px
    return line_px is not None and counted_at(outlet, line_px) == "below_blade"


def way_of(outlet: Outlet, strokes: Strokes | None) -> Way | None:
    """Return what decides which parts got past the blade; None where it is not known.

    From beam to blade by the law of the fall, for the slowest and the fastest part that the
    outlet's speed and its tolerance allow; the blade by the measured strokes.

    Raises
    ------
    UsageError : the blade is above the beam.
    """
    beam, gate, motion = outlet.beam, outlet.gate, outlet.motion
    if beam is None or gate is None or strokes is None or motion.speed_mm_s is None:
        return None
    if beam.below_lip_mm is None or gate.below_lip_mm is None:
        return None
    if gate.below_lip_mm < beam.below_lip_mm:
        raise UsageError(
            f"a blade {gate.below_lip_mm:g} mm below the lip, and the beam at "
            f"{beam.below_lip_mm:g} mm",
            where="gate.below_lip_mm",
            allowed="the beam above the blade: its board commands the cut",
        )
    usual = 0.0 if motion.kind is MotionKind.BELT else STANDARD_GRAVITY_MM_S2
    given = motion.acceleration_mm_s2
    acceleration = usual if given is None else given
    tolerance = 0.01 * (motion.speed_tolerance_percent or USUAL_TOLERANCE_PERCENT)
    times_us = []
    for share, pull in ((1.0 + tolerance, 1.0), (1.0 - tolerance, 1.0 - _G_TOLERANCE)):
        a = acceleration * pull
        at_beam = speed_at(share * motion.speed_mm_s, a, beam.below_lip_mm)
        times_us.append(1e6 * float(time_to(at_beam, a, gate.below_lip_mm - beam.below_lip_mm)))
    return Way(
        least_us=int(times_us[0]),
        most_us=int(times_us[1]) + 1,
        reach_us=int(1e6 * float(strokes.shutting.begins_s.min())),
        shut_us=int(1e6 * float(strokes.shutting.done_s.max())) + 1,
    )


def continued(order: PackOrder, past: Past, *, check: int | None) -> PackOrder:
    """Return the order as it goes on behind what a journal has.

    A check pour comes first where it is asked for, and where the part is another one than before.
    """
    if check is None and past.part not in (None, order.part):
        check = order.each
    return replace(order, first_bag=past.next_bag, packed=past.packed, check=check)
