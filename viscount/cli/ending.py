"""How a command ends: with its exit status, and with one clear message where it went wrong."""

import logging
from typing import TYPE_CHECKING, Any

import typer
from typer.core import TyperGroup

from viscount.cli.screen import complain
from viscount.errors import ExitStatus, ViscountError

if TYPE_CHECKING:
    from viscount.tally import Tally

_NO_BAGS = frozenset({"gate_log_untimed", "gate_never_opened"})
"""Notes that a gate's log was given and no bag came of it; codes are their words."""

_log = logging.getLogger("viscount.cli")


class Commands(TyperGroup):
    """A group of commands whose errors end in a message and the right exit status."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command that was asked for."""
        try:
            return super().invoke(ctx)
        except ViscountError as error:
            _log.debug("raised as follows", exc_info=error)
            complain(str(error))
            status = error.exit_status
        except KeyboardInterrupt:
            complain("interrupted before the end, so that there is no result; run it again")
            status = ExitStatus.INTERRUPTED
        raise typer.Exit(status)


def status_of(tally: "Tally") -> ExitStatus:
    """Return the exit status that stands for a tally."""
    from viscount.values import Status

    if tally.status is Status.INVALID:
        return ExitStatus.INVALID
    bags_unsure = any(bag.status is not Status.CLEAN for bag in tally.bags)
    without_bags = any(note.code in _NO_BAGS for note in tally.notes)
    if tally.status is Status.DOUBTFUL or bags_unsure or without_bags:
        return ExitStatus.DOUBTFUL
    counted_otherwise = tally.check is not None and tally.check.hand_count != tally.count
    if counted_otherwise or tally.as_expected is False:
        return ExitStatus.NOT_AS_EXPECTED
    return ExitStatus.CLEAN
