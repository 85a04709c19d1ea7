"""The marks as settings of an outlet: as a checked model, and as changes to a file."""

from collections.abc import Mapping
from typing import Any

from viscount.monitor.setup.marks import Height, Marks
from viscount.monitor.setup.state import SetUp
from viscount.outlet import Outlet
from viscount.outlet.editing import Value

Key = tuple[str, str]
_PLACES = ("at_px", "below_lip_mm")


def settings_of(marks: Marks) -> dict[Key, Value | None]:
    """Return every key that marks can set, in the order of the file; None where it is open."""
    falls = marks.falls
    values: dict[Key, Value | None] = {
        ("view", "scale_px_per_mm"): marks.scale_px_per_mm,
        ("view", "falls"): None if falls is None else falls.value,
        ("view", "lip_px"): marks.lip_px,
        ("view", "line_px"): marks.line_px,
        ("view", "region_px"): marks.region,
        ("view", "lamp_px"): marks.lamp,
    }
    for section, height in (("beam", marks.beam), ("gate", marks.blade)):
        height = height or Height()
        values[section, "below_lip_mm"] = height.below_lip_mm
        values[section, "at_px"] = height.at_px
    return values


def changes(before: Marks, now: Marks) -> dict[Key, Value | None]:
    """Return the keys that differ, with what they are to say; None for those that are to go.

    Where one of `at_px` and `below_lip_mm` takes the other's place, only the new one is named.
    """
    old, new = settings_of(before), settings_of(now)
    changed = {key: value for key, value in new.items() if value != old[key]}
    for section, name in list(changed):
        pair = [(section, other) for other in _PLACES if other != name]
        if name in _PLACES and changed[section, name] is None and changed.get(pair[0]) is not None:
            del changed[section, name]
    return changed


def outlet_now(setup: SetUp) -> Outlet:
    """Return the outlet with the marks as they stand, all else as it was."""
    data: dict[str, Any] = setup.outlet.model_dump(exclude_unset=True)
    for (section, name), value in settings_of(setup.now).items():
        held = data.get(section)
        kept = dict(held) if isinstance(held, Mapping) else {}
        kept.pop(name, None)
        data[section] = kept if value is None else {**kept, name: value}
    for section in ("beam", "gate"):
        if not any(value is not None for value in data[section].values()):
            del data[section]
    return Outlet.model_validate(data)
