"""The line on standard error that says how a live run stands."""

from types import TracebackType
from typing import Self

from rich.console import Console
from rich.live import Live
from rich.text import Text

from viscount.cli.screen import complain, shown
from viscount.session.messages import Snapshot
from viscount.values import Notice

_OLD_MS = 200.0


class RunningLine:
    """One line that is written over and over. Use as a context manager.

    Parameters
    ----------
    shown : whether anybody sees it; notices are told all the same.
    """

    def __init__(self, *, shown: bool) -> None:
        self._live = None
        if shown:
            console = Console(stderr=True)
            self._live = Live(console=console, auto_refresh=False, transient=True)

    def __enter__(self) -> Self:
        if self._live is not None:
            self._live.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._live is not None:
            self._live.stop()

    def show(self, now: Snapshot) -> None:
        """Write how the run stands."""
        if self._live is not None:
            self._live.update(Text(line_of(now), no_wrap=True, overflow="ellipsis"), refresh=True)

    def tell(self, notice: Notice) -> None:
        """Say what the user must know at once."""
        complain(notice.text)


def line_of(now: Snapshot) -> str:
    """Return how a run stands, in one line."""
    parts = f"{now.count} part{'' if now.count == 1 else 's'}"
    said = [f"{now.t_s:7.1f} s", parts]
    if now.camera == "on":
        rate = "" if now.rate_hz is None else f"{now.rate_hz:.0f} frames/s, "
        old = " (old)" if now.age_ms > _OLD_MS else ""
        said.append(f"camera {rate}{now.age_ms:.0f} ms{old}")
    else:
        said.append(f"camera: {now.camera}")
    if now.dropped:
        said.append(f"{now.dropped} left out")
    if now.blind_s:
        said.append(f"blind {now.blind_s:.2f} s")
    if now.beam is not None:
        beam = now.beam
        state = f"{beam.pulses} pulses" if beam.linked else "no answer"
        lost = f", {beam.lost} edges lost" if beam.lost else ""
        waiting = f", {beam.waiting} B waiting" if beam.waiting else ""
        said.append(f"beam {state}{lost}{waiting}")
    if now.unrecorded:
        said.append(f"recording lacks {now.unrecorded}")
    return shown(" | ".join(said))
