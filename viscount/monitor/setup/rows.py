"""The marks as a table: what will be written for each, and what holds where one is open."""

from collections.abc import Mapping
from dataclasses import dataclass

from viscount.monitor.setup.marks import Mark
from viscount.monitor.setup.settings import Key, settings_of
from viscount.monitor.setup.state import SetUp
from viscount.outlet.editing import Value

_KEYS: Mapping[Mark, tuple[Key, ...]] = {
    Mark.LINE: (("view", "line_px"),),
    Mark.REGION: (("view", "region_px"),),
    Mark.LIP: (("view", "lip_px"),),
    Mark.SCALE: (("view", "scale_px_per_mm"),),
    Mark.BEAM: (("beam", "at_px"), ("beam", "below_lip_mm")),
    Mark.BLADE: (("gate", "at_px"), ("gate", "below_lip_mm")),
    Mark.LAMP: (("view", "lamp_px"),),
}

_OPEN: Mapping[Mark, str] = {
    Mark.LINE: "open: the middle of the region",
    Mark.REGION: "open: the whole picture",
    Mark.LIP: "open: heights below it stay unknown",
    Mark.SCALE: "open: nothing is told in mm",
    Mark.BEAM: "open: pairing goes by the rhythm alone",
    Mark.BLADE: "open: needed to plan a cut only",
    Mark.LAMP: "open: no lamp in view",
}

_HOW: Mapping[Mark, str] = {
    Mark.LINE: "Click where parts are to be counted: in clear view, well below the lip.",
    Mark.REGION: "Drag a box round where parts fall; leave out hands and whatever else moves.",
    Mark.LIP: "Click where parts leave the outlet; it may lie outside the picture.",
    Mark.SCALE: "Drag along something of known length where parts fall, then type its mm.",
    Mark.BEAM: "Click where the beam crosses the picture.",
    Mark.BLADE: "Click where the gate's blade cuts the stream.",
    Mark.LAMP: "Drag a box round the signal lamp, 2 px too large.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One mark of the table.

    Attributes
    ----------
    key : the setting, ``view.line_px``.
    value : as it will be written; empty where it is open.
    note : what it comes to, or what holds while it is open.
    is_open : nobody has set it.
    """

    mark: Mark
    key: str
    value: str
    note: str
    is_open: bool


def rows(setup: SetUp) -> tuple[Row, ...]:
    """Return one row for each mark."""
    values = settings_of(setup.now)
    return tuple(_row(setup, mark, values) for mark in Mark)


def how(mark: Mark) -> str:
    """Return how a mark that is open is set."""
    return _HOW[mark]


def as_written(value: Value) -> str:
    """Return a value as the outlet file will have it."""
    if isinstance(value, str):
        return value
    return str(list(value)) if isinstance(value, tuple) else f"{value:g}"


def _row(setup: SetUp, mark: Mark, values: Mapping[Key, Value | None]) -> Row:
    keys = _KEYS[mark]
    key = next((one for one in keys if values[one] is not None), keys[0])
    value = values[key]
    return Row(
        mark=mark,
        key=".".join(key),
        value="" if value is None else as_written(value),
        note=_OPEN[mark] if value is None else _comes_to(setup, mark),
        is_open=value is None,
    )


def _comes_to(setup: SetUp, mark: Mark) -> str:
    now = setup.now
    if mark is Mark.SCALE:
        ruler = now.ruler
        if ruler is None or ruler.mm is None:
            return f"1 mm is {now.scale_px_per_mm:.3g} px"
        return f"{ruler.length_px:.1f} px are {ruler.mm:g} mm"
    box = now.box(mark)
    if box is not None:
        return f"{box[2] - box[0]} x {box[3] - box[1]} px"
    place, below = now.place_px(mark), now.below_lip_mm(mark)
    if place is None:
        return "below the lip; the picture does not tell where"
    outside = "" if 0 <= place <= setup.along_px - 1 else "outside the picture"
    if mark is Mark.LIP:
        return outside or f"{'y' if now.direction.vertical else 'x'} in the picture"
    if below is None:
        return outside or f"{100 * (place + 0.5) / setup.along_px:.0f} % of the picture"
    return f"{below:.1f} mm below the lip" + (f", {outside}" if outside else "")
