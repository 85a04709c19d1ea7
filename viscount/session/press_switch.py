"""The board's press switch as the host follows it: each press once, at its own time."""

from viscount.devices.protocol.messages import SwitchTold, Total
from viscount.packing.events import Pressed, SwitchLost
from viscount.session.least_delay import LeastDelay

_WRAP = 2**32


class PressSwitch:
    """Follows the switch by the numbers of its changes, and puts presses on the host's clock.

    A press is one only where its change is the next one. What was pressed or held before the board
    first told of its switch is none.
    """

    def __init__(self) -> None:
        self._last: SwitchTold | None = None
        self._delay = LeastDelay()
        self._board_us: int | None = None

    def begin(self) -> None:
        """Go by what the board tells next: it was linked anew."""
        self._last = None
        self._board_us = None
        self._delay = LeastDelay()

    def total(self, now_ns: int, told: Total, boot: int) -> None:
        """Take a total: it bears the time at which it was sent."""
        before_us = told.t_us if self._board_us is None else self._board_us
        self._board_us = before_us + (told.t_us - before_us) % _WRAP
        self._delay.heard(now_ns, 1000 * self._board_us, boot)

    def told(self, told: SwitchTold) -> Pressed | SwitchLost | None:
        """Take how the switch stands; return what is new."""
        before, self._last = self._last, told
        if before is None or told.seq == before.seq:
            return None
        step = (told.seq - before.seq) % _WRAP
        if step != 1 or told.pressed is before.pressed:
            return SwitchLost(changes=max(step - 1, 1) if step < _WRAP // 2 else 1)
        if not told.pressed:
            return None
        if self._board_us is None:
            return SwitchLost(changes=1)
        since_us = (told.t_us - self._board_us + _WRAP // 2) % _WRAP - _WRAP // 2
        return Pressed(at_ns=1000 * (self._board_us + since_us) + self._delay.offset_ns)
