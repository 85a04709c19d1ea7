"""What a monitor is told before its run begins."""

from dataclasses import dataclass, field

from viscount.gate.strokes import Strokes
from viscount.outlet import Outlet
from viscount.packing.order import PackOrder


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is known beforehand.

    Attributes
    ----------
    title : of the window.
    outlet : the settings in force.
    expected : parts that ought to be there, or None.
    needed_ms : the least gap that the gate can cut in, or None.
    has_beam, packs : whether a beam is connected, and a gate driven.
    """

    title: str
    outlet: Outlet = field(default_factory=Outlet)
    expected: int | None = None
    needed_ms: float | None = None
    has_beam: bool = False
    packs: bool = False


def needed_by_order(order: PackOrder | None) -> float | None:
    """Return the least gap that the gate of an order can cut in: from least reach to most shut."""
    if order is None or order.way is None:
        return None
    return 1e-3 * (order.way.shut_us - order.way.reach_us)


def needed_by_strokes(strokes: Strokes | None) -> float | None:
    """Return the same of measured strokes."""
    if strokes is None:
        return None
    return 1e3 * float(strokes.shutting.done_s.max() - strokes.shutting.begins_s.min())
