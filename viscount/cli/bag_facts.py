"""What there is to say of the bags, in words, line by line."""

from collections.abc import Iterator

from viscount.cli.fact import Fact
from viscount.tally import Bag, Tally
from viscount.values import Status


def bag_facts(tally: Tally) -> Iterator[Fact]:
    """Yield where the line is, what is in each bag, and what is held."""
    if tally.counted_at == "above_blade":
        advice = "" if tally.bags else "--gate-log and --strokes tell what is in the bag"
        text = "above the blade: parts that crossed it may lie on the blade"
        yield Fact(label="line", text=text, advice=advice)
    elif tally.counted_at == "below_blade":
        yield Fact(label="line", text="below the blade: what crossed it is in the bag")
    if tally.in_bag is not None:
        several = f", in {len(tally.bags)} bags" if len(tally.bags) > 1 else ""
        yield Fact(label="in bag", text=f"{tally.in_bag}{several}")
    if tally.held is not None:
        yield Fact(label="held", text=str(tally.held))
    for bag in tally.bags:
        yield Fact(label="bag", text=_bag(bag))
        for reason in bag.reasons:
            remedy = reason.code.remedy
            text = f"{bag.number}: {reason.text}"
            yield Fact(label="why", text=text, advice="" if remedy in text else remedy)


def _bag(bag: Bag) -> str:
    content = "1 part" if bag.content == 1 else f"{bag.content} parts"
    spread = "" if bag.low == bag.high else f", {bag.low} to {bag.high}"
    told = [
        (bag.held_before, "held before"),
        (bag.held_after, "held after"),
        (bag.pinched, "in the blade's way"),
    ]
    extra = "".join(f"; {many} {what}" for many, what in told if many)
    status = "clean" if bag.status is Status.CLEAN else "doubtful"
    return f"{bag.number}: {content}{spread}, {status}{extra}"
