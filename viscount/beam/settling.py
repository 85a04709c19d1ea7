"""Takes spikes out of the beam's changes: what is left lasts long enough to be a part, or a gap.

Changes that follow each other in less than `least_ns` are one burst. A burst ends when a level
holds for so long. If that is another level than before, the beam changed with the burst's first
edge: contacts bounce after they first touch, and the lengths of pulses stay true. If it is the
same level, the other one came and went; it counts where it makes up `least_ns` and half of the
burst, so that a part that flickers from end to end is one pulse, and a flicker of the light none.
"""

from dataclasses import dataclass


@dataclass(slots=True, kw_only=True)
class Interruption:
    """One stretch of dark, spikes taken out; `from_start` and `to_end` say which ends were seen."""

    start_ns: int
    end_ns: int = 0
    spikes: int = 0
    from_start: bool = True


class Settling:
    """Turns raw changes into interruptions, in memory that does not grow.

    Attributes
    ----------
    spikes : spikes taken out so far, dark and light.
    unsettled : bursts taken out although the level that they are not counted as made up
        `least_ns` of them.
    """

    def __init__(self, least_ns: int) -> None:
        self.spikes = 0
        self.unsettled = 0
        self._least_ns = least_ns
        self._open: Interruption | None = None
        self._before = self._level = False
        self._first_ns = self._last_ns = 0
        self._edges = 0
        self._dark_ns = self._light_ns = 0

    @property
    def last_ns(self) -> int:
        """When the raw level last changed, or watching began."""
        return self._last_ns

    def begin(self, t_ns: int, *, blocked: bool) -> None:
        """Begin to watch at a level whose own beginning was not seen."""
        self._level = self._before = blocked
        self._last_ns, self._edges = t_ns, 0
        self._dark_ns = self._light_ns = 0
        self._open = Interruption(start_ns=t_ns, from_start=False) if blocked else None

    def change(self, t_ns: int) -> list[Interruption]:
        """Take a change to the other level; return what became final."""
        held_ns = t_ns - self._last_ns
        done: list[Interruption] = []
        if held_ns >= self._least_ns:
            if self._edges:
                self._settle(done)
            self._first_ns, self._edges = t_ns, 1
            self._dark_ns = self._light_ns = 0
        else:
            if self._edges == 0:
                self._first_ns = t_ns
            elif self._level:
                self._dark_ns += held_ns
            else:
                self._light_ns += held_ns
            self._edges += 1
        self._level = not self._level
        self._last_ns = t_ns
        return done

    def quiet(self, until_ns: int) -> list[Interruption]:
        """Take it that the level holds until then; return what became final."""
        done: list[Interruption] = []
        if self._edges and until_ns - self._last_ns >= self._least_ns:
            self._settle(done)
        return done

    def stop(self) -> tuple[list[Interruption], Interruption | None]:
        """Take the last level as it stands; return what became final, and what is still dark."""
        done: list[Interruption] = []
        if self._edges:
            self._settle(done)
        still, self._open = self._open, None
        return done, still

    def _settle(self, done: list[Interruption]) -> None:
        """Decide what the burst was, now that its last level holds."""
        spikes, odd = divmod(self._edges - 1, 2)
        if odd == 0:
            self._changed(done, spikes)
        else:
            self._came_back(done, spikes + 1)
        self._before = self._level
        self._edges = 0

    def _changed(self, done: list[Interruption], spikes: int) -> None:
        self.spikes += spikes
        if self._level:
            self._open = Interruption(start_ns=self._first_ns, spikes=spikes)
        elif self._open is not None:
            done.append(self._closed(self._open, self._first_ns, spikes))
            self._open = None

    def _came_back(self, done: list[Interruption], visits: int) -> None:
        """The level is as before, and was left `visits` times for the other one."""
        there_ns, here_ns = self._dark_ns, self._light_ns
        if self._before:
            there_ns, here_ns = here_ns, there_ns
        stays = there_ns >= max(self._least_ns, here_ns)
        spikes = visits - 1 if stays else visits
        self.spikes += spikes
        if not stays:
            self.unsettled += there_ns >= self._least_ns
            if self._open is not None:
                self._open.spikes += spikes
        elif self._before and self._open is not None:
            done.append(self._closed(self._open, self._first_ns, 0))
            self._open = Interruption(start_ns=self._last_ns, spikes=spikes)
        else:
            done.append(Interruption(start_ns=self._first_ns, end_ns=self._last_ns, spikes=spikes))

    def _closed(self, dark: Interruption, end_ns: int, spikes: int) -> Interruption:
        dark.end_ns = end_ns
        dark.spikes += spikes
        return dark
