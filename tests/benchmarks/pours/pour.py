"""One pour that is done with: judged in every mode, or broken."""

import json
import time
from dataclasses import dataclass
from typing import Self

from benchmarks.accuracy.cases import MODES, random_cases
from benchmarks.accuracy.judging import Judgement, judge_case


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """What became of the pour that `seed` draws.

    Attributes
    ----------
    seconds : how long it took to draw, simulate and count, on the clock on the wall.
    judged : one judgement for each mode, or none where the pour broke.
    broken : what broke, in words, or None.
    """

    seed: int
    seconds: float
    judged: tuple[Judgement, ...] = ()
    broken: str | None = None

    def line(self) -> str:
        """Return it as one JSON object on one line.

        Raises
        ------
        ValueError
            Where a figure is not finite.
        """
        plain = {
            "seed": self.seed,
            "seconds": self.seconds,
            "broken": self.broken,
            "judged": [one.with_doubts() for one in self.judged],
        }
        return json.dumps(plain, allow_nan=False)

    @classmethod
    def from_line(cls, line: str) -> Self:
        """Make it again from its line.

        Raises
        ------
        ValueError
            Where the line does not hold a whole pour.
        """
        try:
            plain = json.loads(line)
            pour = cls(
                seed=int(plain["seed"]),
                seconds=float(plain["seconds"]),
                judged=tuple(Judgement.again(one) for one in plain["judged"]),
                broken=plain["broken"],
            )
        except (KeyError, TypeError) as error:
            raise ValueError(f"not a pour: {error!r}") from error
        if tuple(one.mode for one in pour.judged) != (() if pour.broken else MODES):
            raise ValueError("not a pour: neither broken nor judged in every mode")
        return pour


def poured(seed: int) -> str:
    """Draw, simulate and judge one pour, and return its line.

    Whatever goes wrong is a finding about this pour, and costs no other.
    """
    began = time.monotonic()
    try:
        (case,) = random_cases(1, seed)
        found = tuple(judge_case(case, rivals=False))
        return Pour(seed=seed, seconds=time.monotonic() - began, judged=found).line()
    except Exception as error:
        what = f"{type(error).__name__}: {error}"
        return Pour(seed=seed, seconds=time.monotonic() - began, broken=what).line()
