"""What a plan of cuts comes to, and what would help, in words."""

from collections.abc import Iterator

from viscount.cli.facts import Fact
from viscount.gate.cuts import CutPlan
from viscount.gate.remedies import Remedies
from viscount.gate.rows import CutRow
from viscount.offline.cutting import Planned


def advice(found: Planned) -> Iterator[Fact]:
    """Yield what the plan comes to, then what would help the first cut that does not fit."""
    plan = found.plan
    if found.strokes is None:
        room = min(plan.rows, key=lambda row: row.trigger.arrive_s - row.trigger.clear_s)
        yield Fact(label="gate", text=_gate_needed(room))
        return
    rate = f"{100 * plan.rate:g} %"
    promised = plan.largest_promised
    if len(plan.rows) > 1:
        yield Fact(label="estimate", text=f"{_estimate(plan)} can be cut exactly in {rate} of bags")
    text = "no number can be promised" if promised is None else f"{promised} parts can be promised"
    reached = "reaches" if promised is not None else "of none reaches"
    yield Fact(label="promise", text=f"{text} (the lower limit {reached} {rate})")
    if plan.remedies is not None:
        row = next(r for r in plan.rows if r.number == plan.remedies.number)
        greatest_s = float(found.strokes.shutting.done_s.max())
        yield from _helps(plan.remedies, row, plan.unit, greatest_s)


def _estimate(plan: CutPlan) -> str:
    largest, up_to = plan.largest_expected, plan.expected_up_to
    if largest is None:
        return "no number of parts"
    if up_to is None:
        return f"{largest} parts at most, but not every smaller number,"
    if largest > up_to:
        return f"up to {up_to} parts, and some numbers up to {largest},"
    return f"up to {up_to} parts"


def _gate_needed(row: CutRow) -> str:
    own = row.trigger
    room = own.arrive_s - own.clear_s
    if room <= 0:
        return f"no gate, however fast, can cut after part {row.number} in all pours"
    return (
        f"the hardest cut, after part {row.number}, needs a greatest shut less least reach of at "
        f"most {_ms(room)}, and a greatest shut of at most {_ms(own.arrive_s)}"
    )


def _helps(found: Remedies, row: CutRow, unit: str, greatest_s: float) -> Iterator[Fact]:
    name = f"N = {found.number}"
    if found.enough:
        text = f"there is room: {_ms(found.room_s)} for {_ms(found.need_s)}"
        if row.expected:
            yield Fact(label=name, text=text)
        else:
            text += (
                f", {_ms(found.unsure_s)} of these for doubt of the times; yet pours to come are "
                f"not expected to be exact in {100 * row.rate:g} %"
            )
            advice = (
                "measure the heights of beam and blade, and the scale; measure more pours and "
                "strokes"
            )
            yield Fact(label=name, text=text, advice=advice)
        if row.trigger.back:
            yield _earlier(found, row)
        return
    yield Fact(
        label=name,
        text=f"the gate takes {_ms(found.need_s)} between least reach and greatest shut, all that "
        f"varies included, {_ms(found.unsure_s)} of it doubt of the times; there are "
        f"{_ms(found.room_s)}",
    )
    yield _lower(found, unit)
    yield _slower(found)
    yield Fact(
        label="singles",
        text=f"parts let go one by one need {_ms(found.single_interval_s)} from part to part, "
        f"{1 / found.single_interval_s:.1f} a second at most",
    )
    yield _faster(found, greatest_s)
    yield _earlier(found, row)


def _lower(found: Remedies, unit: str) -> Fact:
    deep = "" if found.ceiling_s is None else f"however low, there are {_ms(found.ceiling_s)}"
    if found.lower_by is None:
        text = f"no gate height will do: {deep}" if deep else "no gate height will do"
        return Fact(label="lower", text=text)
    text = f"the blade {found.lower_by:.3g} {unit} lower"
    return Fact(label="lower", text=f"{text}; {deep}" if deep else text)


def _slower(found: Remedies) -> Fact:
    what = "column" if found.column_at_lip else "stream"
    if found.slower is None:
        return Fact(label="slower", text=f"no {what} up to twenty times as slow will do")
    share = 100 / found.slower**2
    text = f"intervals {found.slower:.2f} times as long"
    if found.column_at_lip:
        text += f": a column that slides with {share:.0f} % of its acceleration"
    return Fact(label="slower", text=text)


def _faster(found: Remedies, greatest_s: float) -> Fact:
    if found.stroke_s is None or found.shut_s is None:
        return Fact(label="faster", text="no gate, however fast, can cut here in all pours")
    text = f"a gate whose greatest shut less least reach is at most {_ms(found.stroke_s)}"
    if found.shut_s < greatest_s:
        text += f", with a greatest shut of at most {_ms(found.shut_s)}"
    return Fact(label="faster", text=text)


def _earlier(found: Remedies, row: CutRow) -> Fact:
    own = row.triggers[0]
    if found.back:
        text = (
            f"the head of part {found.number - found.back} is the better trigger: "
            f"{_percent(row.trigger.chance)} of the measured exact, {_percent(own.chance)} from "
            f"part {found.number}"
        )
    elif len(row.triggers) == 1:
        text = "there is no part before this one to command from"
    else:
        best = max(other.chance or 0.0 for other in row.triggers[1:])
        text = f"an earlier part as trigger does not help: {_percent(best)} of the measured exact"
    return Fact(label="trigger", text=text)


def _percent(chance: float | None) -> str:
    return f"{100 * (chance or 0.0):.1f} %"


def _ms(seconds: float) -> str:
    return f"{round(1e3 * seconds, 2) + 0.0:.2f} ms"
