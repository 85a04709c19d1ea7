"""The run of ``viscount pack``: what the person types, and what the run says."""

import queue
import sys
import threading
from collections.abc import Sequence

from viscount.cli.live_counting import stopping, windows_left
from viscount.cli.pack_text import POWER, keys_of, status_of, totals_json, totals_text
from viscount.cli.screen import complain, say
from viscount.cli.screen import shown as as_shown
from viscount.errors import ExitStatus
from viscount.packing.events import HandCount, Said, Word
from viscount.packing.machine import Phase
from viscount.packing.record import BagRecord
from viscount.packing.totals import Totals
from viscount.session.live_run import LiveRun
from viscount.session.messages import Packing, Told
from viscount.session.observer import ObserverMain
from viscount.session.plan import LivePlan

LOOKS_EVERY_S = 0.05
_WORDS = {
    "a": Word.ASIDE,
    "t": Word.TOP_UP,
    "p": Word.PAUSE,
    "g": Word.GO_ON,
    "q": Word.STOP,
}


class Keyboard:
    """Reads lines in a thread of its own; None once nobody can type any more."""

    def __init__(self) -> None:
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        threading.Thread(target=self._read, name="keyboard", daemon=True).start()

    def lines(self) -> list[str | None]:
        """Return what was typed since this was last asked."""
        found: list[str | None] = []
        while not self._lines.empty():
            found.append(self._lines.get())
        return found

    def _read(self) -> None:
        try:
            for line in sys.stdin:
                self._lines.put(line.strip().lower())
        except (OSError, ValueError):
            pass
        self._lines.put(None)


class Screen:
    """Shows how the packing stands, and keeps what it comes to."""

    def __init__(self, packed: int, *, as_json: bool) -> None:
        self.now: Packing | None = None
        self.records: list[BagRecord] = []
        self.totals = Totals(packed=packed)
        self._as_json = as_json
        self._line = sys.stderr.isatty()

    def show(self, now: Packing) -> None:
        """Take how it stands."""
        self.now, self.totals = now, now.totals
        if now.record is not None:
            self.records.append(now.record)
        for one in now.says:
            self._wipe()
            self._put(f"{one.text}\n")
        if self._line and not now.ended:
            sys.stderr.write(f"\r\x1b[K{as_shown(status_of(now))}")
            sys.stderr.flush()

    def done(self) -> None:
        """Leave no line behind."""
        self._wipe()

    def _put(self, text: str) -> None:
        if self._as_json:
            sys.stderr.write(as_shown(text))
            sys.stderr.flush()
        else:
            say(as_shown(text))

    def _wipe(self) -> None:
        if self._line:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()


def heard(line: str, now: Packing | None) -> Said | HandCount | None:
    """Return what a typed line means as things stand; None where it means nothing.

    Enter means that a bag is in place only where a bag is waited for: one typed too early, or at a
    bag that is to be set aside, opens nothing.
    """
    if now is None:
        return None
    if now.phase == Phase.HAND and line.isdecimal() and len(line) < 7:
        return HandCount(count=int(line))
    if not line:
        waits = now.phase == Phase.WAITING
        return Said(word=Word.BAG, bag=now.bag) if waits else None
    word = _WORDS.get(line[0]) or (Word(line) if line in set(Word) else None)
    if word in (Word.ASIDE, Word.TOP_UP):
        return Said(word=word, bag=now.bag)
    return None if word is None else Said(word=word)


def packed(plan: LivePlan, *, as_json: bool, shown: Sequence[ObserverMain] = ()) -> ExitStatus:
    """Run a plan to its end, and print what it comes to; `shown` are windows beside it.

    Raises
    ------
    ViscountError : the run could not go on.
    """
    order = plan.pack
    assert order is not None
    screen = Screen(order.packed, as_json=as_json)
    if not as_json:
        say(f"{POWER}{keys_of(order)}\n")
    with LiveRun(plan, shown=shown) as run, windows_left(run), stopping(run):
        keys = Keyboard()
        try:
            while not run.ended():
                for value in run.values(LOOKS_EVERY_S):
                    if isinstance(value, Packing):
                        screen.show(value)
                    elif isinstance(value, Told):
                        complain(value.notice.text)
                for line in keys.lines():
                    if line is None:
                        # Nobody is there any more.
                        run.stop()
                    elif (said := heard(line, screen.now)) is not None:
                        run.press(said)
            for value in run.values(0.0):
                if isinstance(value, Packing):
                    screen.show(value)
        finally:
            screen.done()
        run.result()
    if as_json:
        say(totals_json(screen.totals, screen.records, plan))
    else:
        say(totals_text(screen.totals, order, plan.journal))
    if shown:
        from viscount.cli.window import wait_for

        wait_for(run.windows)
    enough = screen.totals.packed >= order.bags
    return ExitStatus.CLEAN if enough else ExitStatus.NOT_AS_EXPECTED
