"""What many runs come to, in words."""

from collections.abc import Iterator

from viscount.cli.fact import Fact
from viscount.cli.readable import fact_table, plain_lines
from viscount.cli.screen import on_terminal, rendered
from viscount.counters.pool import LEAST_POOLED, Checked, ErrorRate, Pool

SHOWN = 3
NAMES = {"camera": "the camera", "beam": "the beam", "both": "both together"}


def pool_text(pool: Pool) -> str:
    """Return the pool for people."""
    lines = list(_facts(pool))
    if on_terminal():
        return rendered(fact_table(lines))
    return "\n".join(plain_lines(lines)) + "\n"


def _facts(pool: Pool) -> Iterator[Fact]:
    caught = pool.caught
    yield Fact(label="runs", text=f"{pool.runs} of one machine and one part")
    if pool.unpaired:
        shown = ", ".join(pool.unpaired[:SHOWN])
        more = f" and {len(pool.unpaired) - SHOWN} more" if len(pool.unpaired) > SHOWN else ""
        text = f"{len(pool.unpaired)} without pairings to go by: {shown}{more}"
        yield Fact(label="left out", text=text)
    text = f"{caught.parts}, {caught.both} seen by both, {caught.camera_only} by the camera only, "
    yield Fact(label="parts", text=f"{text}{caught.beam_only} by the beam only")
    yield Fact(label="camera", text=_missed(caught.camera, "the beam"))
    yield Fact(label="beam", text=_missed(caught.beam, "the camera"))
    if caught.missed is None:
        text = (
            f"nothing to say of: at least {LEAST_POOLED} parts are needed, here are {caught.parts}"
        )
        yield Fact(label="neither", text=text)
    else:
        text = (
            f"about {caught.missed.value:.2g} ± {caught.missed.sigma:.2g} parts seen by neither "
            f"(Chapman; {caught.petersen or 0.0:.2g} by Lincoln and Petersen); at least: what "
            "fools both alike is not in it"
        )
        yield Fact(label="neither", text=text)
    if not pool.checked:
        text = "none: only parts counted by hand (`--hand-count`) find what fools both counters"
        yield Fact(label="by hand", text=text)
    for one in pool.checked:
        yield Fact(label="by hand", text=_checked(one))
    text = (
        f"{pool.bags_needed} more counted by hand must come out right to show, with 95 % "
        f"confidence, that fewer than 1 in {1 / pool.target_rate:.0f} are wrong"
    )
    if not pool.bags_needed:
        text = f"shown, with 95 % confidence: fewer than 1 in {1 / pool.target_rate:.0f} are wrong"
    yield Fact(label="bags", text=text)


def _missed(rate: ErrorRate, other: str) -> str:
    return f"missed {rate.errors} of the {rate.trials} that {other} saw{_limits(rate)}"


def _checked(one: Checked) -> str:
    bags = (
        f"{NAMES[one.name]}: {one.bags.errors} of {one.bags.trials} bags wrong{_limits(one.bags)}"
    )
    return f"{bags}; {one.parts.errors} of {one.parts.trials} parts at least{_limits(one.parts)}"


def _limits(rate: ErrorRate) -> str:
    if rate.rate is None or rate.low is None or rate.high is None:
        return ""
    return f": {100 * rate.rate:.2g} %, truly {100 * rate.low:.2g} to {100 * rate.high:.2g} %"
