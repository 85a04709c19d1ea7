"""What is said to the person who packs."""

from viscount.packing.bag import Bag
from viscount.packing.record import BagRecord, Result


def said_of(record: BagRecord) -> str:
    """Return what became of a bag, in a line."""
    name = "check pour" if record.bag == 0 else f"bag {record.bag}"
    counts = f"in the bag {_known(record.in_bag)} / wanted {record.wanted} / held "
    counts += _known(record.held)
    why = f": {'; '.join(record.reasons)}" if record.reasons else ""
    return f"{name}: {_kind(record)} ({counts}){why}"


def wants_of(bag: Bag, held: int, *, first: bool, switch: bool = False) -> str:
    """Return what a person is to do for the next bag; `switch`: and then press the board's."""
    press = ", take your hands out, and press the switch" if switch else ""
    clear = "; the blade must be free of parts" if first else ""
    lies = f" ({held} held)" if held else ""
    if bag.number == 0:
        return f"check pour of {bag.wanted}: put a tray in place{press}{clear}"
    return f"bag {bag.number}: put an empty bag in place{press}{clear}{lies}"


def _kind(record: BagRecord) -> str:
    if record.result is Result.SHORT:
        return f"short {record.missing}"
    if record.result is Result.OVER:
        return f"over {-record.missing}"
    return str(record.result)


def _known(count: int | None) -> str:
    return "?" if count is None else str(count)
