"""The offline run: a recording and an outlet in, a tally out; and a stored tally beside a log."""

from viscount.offline.comparing import compare
from viscount.offline.counting import DEFAULT_QUIET_S, count

__all__ = ["DEFAULT_QUIET_S", "compare", "count"]
