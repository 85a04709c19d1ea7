"""From the options of ``viscount pack`` to its plan."""

from dataclasses import replace
from pathlib import Path

from viscount.devices.triggers.strokes import read_strokes
from viscount.errors import UsageError
from viscount.hooks.loading import load_plugins
from viscount.hooks.registry import DEFAULT_TRIGGER
from viscount.packing.order import BagBy, PackOrder
from viscount.session.journal import read_journal
from viscount.session.packing import below_blade, continued, way_of
from viscount.session.plan import LivePlan


def pack_plan(
    live: LivePlan,
    *,
    each: int,
    bags: int,
    delay_ms: float,
    early: int,
    strokes: Path | None,
    journal: Path,
    check: int | None,
    bag_by: str,
    on_ms: int,
    empty_ms: int,
    dry: bool,
) -> LivePlan:
    """Return the plan of a live run that packs; nothing is opened for it.

    Raises
    ------
    ViscountError : an option or a file cannot be used.
    """
    if early >= each:
        raise UsageError(f"--early {early} with {each} parts in a bag", allowed=f"0 to {each - 1}")
    if bag_by not in list(BagBy):
        raise UsageError(f"--bag-by {bag_by}", allowed=" or ".join(BagBy))
    outlet = live.outlet
    name = (outlet.gate.name if outlet.gate is not None else None) or DEFAULT_TRIGGER
    if live.beam_port is None and not dry:
        raise UsageError(
            "packing without the beam's board",
            where="--beam-port",
            remedy="name the port of the board that counts the beam and drives the gate",
        )
    registry = load_plugins()
    if name not in registry.gate_triggers:
        # Raises, with what there is.
        from viscount.seams import Fitting

        registry.gate_trigger_for(outlet, Fitting())
    below = below_blade(outlet)
    way = way_of(outlet, None if strokes is None else read_strokes(strokes))
    if way is None and not below:
        raise UsageError(
            "nothing tells which parts get past the blade, so that no bag could ever be good",
            where="--strokes, beam, gate, motion.speed_mm_s",
            allowed="a counting line below the blade (view.line_px below gate), or beam and gate "
            "by below_lip_mm, motion.speed_mm_s, and --strokes with the measured gate",
            remedy="see `viscount cut` for strokes, and `viscount spacing` for the speed",
        )
    part = outlet.part
    label = "" if part is None or part.name is None else str(part.name)
    least_us = None if outlet.beam is None else outlet.beam.min_pulse_us
    order = PackOrder(
        each=each,
        bags=bags,
        part=label,
        early=early,
        delay_us=round(1e3 * delay_ms),
        on_ms=on_ms,
        bag_by=BagBy(bag_by),
        below_blade=below,
        way=way,
        empty_ms=empty_ms,
        least_pulse_us=100 if least_us is None else round(least_us),
    )
    harmless = registry.gate_triggers[name].entry
    keeper = getattr(harmless, "harmless", None)
    if keeper is not None:
        order = replace(order, keeper=keeper.keeper)
    order = continued(order, read_journal(journal), check=check)
    if not journal.parent.is_dir():
        raise UsageError(
            "the folder is missing", where=f"--journal {journal}", remedy=f"create {journal.parent}"
        )
    return replace(live, pack=order, journal=journal)
