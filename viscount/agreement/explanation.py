"""All explanations of one cluster of passages and pulses, weighed against each other.

An explanation takes events in order of time and says of each step which passages and pulses are
the same parts. The steps form a graph with few nodes, because events far apart in time cannot
be exchanged. The likeliest path is found as by Viterbi (1967); the chance of each step is the
share of all paths that take it (forward-backward; Baum et al. 1970). Steps without a partner
follow the order of time, so that each explanation is one path and is counted once.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from viscount.agreement.events import Dark, Due
from viscount.agreement.steps import Step, Steps

NOTHING = -math.inf
MET, ALONE_DUE, ALONE_DARK = 0, 1, 2
Node = tuple[int, int, int]


@dataclass(slots=True, eq=False)
class Explanation:
    """The likeliest steps, and the chances of parts under all of them.

    Attributes
    ----------
    path : the likeliest steps, in order.
    due_parts : for each passage the chance of each number of parts that it stands for.
    dark_parts : for each pulse the same, beyond those of passages.
    log_total : the logarithm of how likely the events are by all of them.
    """

    path: list[Step]
    due_parts: list[dict[int, float]] = field(default_factory=list)
    dark_parts: list[dict[int, float]] = field(default_factory=list)
    log_total: float = 0.0


def explain(dues: Sequence[Due], darks: Sequence[Dark], steps: Steps) -> Explanation:
    """Return the explanation of events in order of time; at least one of them."""
    if len(dues) == len(darks) == 1:
        return _one_each(steps)
    edges, order = _graph(dues, darks, steps)
    last = [
        node
        for layer in (MET, ALONE_DUE, ALONE_DARK)
        if (node := (len(dues), len(darks), layer)) in order
    ]
    best = max(last, key=lambda node: order[node].best)
    path: list[Step] = []
    node = best
    while (come := order[node].come) is not None:
        node, step = come
        path.append(step)
    path.reverse()
    found = Explanation(path, [{} for _ in dues], [{} for _ in darks])
    total = found.log_total = _sum([order[node].before for node in last])
    behind = dict.fromkeys(order, NOTHING)
    for node in last:
        behind[node] = 0.0
    for start, end, step in reversed(edges):
        after = step.log_weight + behind[end]
        behind[start] = _plus(behind[start], after)
        chance = math.exp(min(order[start].before + after - total, 0.0))
        if chance > 1e-12:
            _share(found, step, chance)
    return found


def _one_each(steps: Steps) -> Explanation:
    """Return the explanation of one passage and one pulse, the commonest cluster by far."""
    lone = steps.alone_due(0)
    ways = [[step] for step in steps.meeting(0, 0)]
    ways += [[lone, step] for step in steps.alone_dark(0) if step.darks == 1]
    weights = [sum(step.log_weight for step in way) for way in ways]
    best = max(weights)
    shares = [math.exp(weight - best) for weight in weights]
    found = Explanation(ways[weights.index(best)], [{}], [{}], best + math.log(sum(shares)))
    for way, share in zip(ways, shares, strict=True):
        for step in way:
            _share(found, step, share / sum(shares))
    return found


@dataclass(slots=True, eq=False)
class _Reached:
    """A node: the sum over paths to it, and the best of them."""

    before: float
    best: float
    come: tuple[Node, Step] | None = None


def _graph(
    dues: Sequence[Due], darks: Sequence[Dark], steps: Steps
) -> tuple[list[tuple[Node, Node, Step]], dict[Node, _Reached]]:
    """Return all steps between nodes that can be reached, in an order that follows them."""
    reached: dict[Node, _Reached] = {(0, 0, MET): _Reached(0.0, 0.0)}
    waiting: dict[int, set[Node]] = {0: {(0, 0, MET)}}
    edges: list[tuple[Node, Node, Step]] = []
    for level in range(len(dues) + len(darks)):
        for node in sorted(waiting.pop(level, ())):
            here = reached[node]
            for end, step in _onwards(node, dues, darks, steps):
                edges.append((node, end, step))
                weight = step.log_weight
                there = reached.get(end)
                if there is None:
                    reached[end] = _Reached(here.before + weight, here.best + weight, (node, step))
                    waiting.setdefault(end[0] + end[1], set()).add(end)
                    continue
                there.before = _plus(there.before, here.before + weight)
                if here.best + weight > there.best:
                    there.best, there.come = here.best + weight, (node, step)
    return edges, reached


def _onwards(
    node: Node, dues: Sequence[Due], darks: Sequence[Dark], steps: Steps
) -> list[tuple[Node, Step]]:
    i, j, layer = node
    found: list[tuple[Node, Step]] = []
    due = dues[i] if i < len(dues) else None
    dark = darks[j] if j < len(darks) else None
    if due is not None:
        in_order = layer != ALONE_DARK or darks[j - 1].start_us <= due.at_us
        if in_order and (dark is None or due.low_us <= dark.start_us):
            found.append(((i + 1, j, ALONE_DUE), steps.alone_due(i)))
    if dark is not None:
        in_order = layer != ALONE_DUE or dues[i - 1].at_us < dark.start_us
        if in_order and (due is None or dark.start_us <= due.latest_us):
            found += [((i, j + s.darks, ALONE_DARK), s) for s in steps.alone_dark(j)]
    if due is not None and dark is not None:
        found += [((i + s.dues, j + s.darks, MET), s) for s in steps.meeting(i, j)]
    return found


def _share(found: Explanation, step: Step, chance: float) -> None:
    """Add one step's chance to the parts of its events."""
    for parts, beyond, share in step.cases:
        for k, each in enumerate(parts, start=step.due):
            own = found.due_parts[k]
            own[each] = own.get(each, 0.0) + chance * share
        for k in range(step.dark, step.dark + step.darks):
            # What several pulses stand for beyond passages is put on the first.
            each = beyond if k == step.dark else 0
            other = found.dark_parts[k]
            other[each] = other.get(each, 0.0) + chance * share


def _plus(first: float, second: float) -> float:
    """Return the logarithm of a sum from the logarithms of its two terms."""
    if second > first:
        first, second = second, first
    if second == NOTHING:
        return first
    return first + math.log1p(math.exp(second - first))


def _sum(logs: Sequence[float]) -> float:
    """Return the logarithm of a sum from the logarithms of its terms."""
    total = NOTHING
    for each in logs:
        total = _plus(total, each)
    return total
