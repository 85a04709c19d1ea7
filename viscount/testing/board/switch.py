"""The press switch of a simulated board: contacts that bounce, and the level that stands."""

from viscount.devices.protocol.messages import STANDS_MS, SwitchTold
from viscount.testing.board.own_clock import OwnClock

_STANDS_NS = STANDS_MS * 1_000_000
_U32 = 2**32


class Switch:
    """One run of a board's press switch, from reset to reset.

    A level counts as a change once it has stood for `STANDS_MS`; its time is when it began to.

    Parameters
    ----------
    clock : the board's own.
    pressed : the level at the reset, which is no change.

    Attributes
    ----------
    watched : the host asked to be told.
    """

    def __init__(self, t_ns: int, clock: OwnClock, *, pressed: bool) -> None:
        self.watched = False
        self._clock = clock
        self._seq = 0
        self._contact = self._pressed = pressed
        self._since_ns = self._contact_ns = t_ns

    def contact(self, t_ns: int, pressed: bool) -> None:
        """Let the contact be made, or broken."""
        if pressed is not self._contact:
            self._contact, self._contact_ns = pressed, t_ns

    @property
    def due_ns(self) -> int | None:
        """When the contact will have stood for long enough, or None."""
        if self._contact is self._pressed:
            return None
        return self._clock.later(self._contact_ns, _STANDS_NS)

    def change(self) -> None:
        """Take the contact's level for the switch's."""
        self._pressed, self._since_ns = self._contact, self._contact_ns
        self._seq = (self._seq + 1) % _U32

    def told(self) -> SwitchTold:
        """Return how it stands."""
        shown_us = self._clock.shown_us(self._since_ns)
        return SwitchTold(seq=self._seq, t_us=shown_us, pressed=self._pressed)
