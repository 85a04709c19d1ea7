"""The state of a set-up: the picture, the marks as they stand, and how they came to be."""

from dataclasses import dataclass, field, replace

from viscount.monitor.setup.gripping import Grip
from viscount.monitor.setup.marks import Mark, Marks, marks_of
from viscount.outlet import Outlet

MOST_STEPS = 500
"""So many steps can be taken back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A mark that is being dragged.

    Attributes
    ----------
    grip : what is held.
    origin : the marks that the drag is told from.
    before : the marks before it was grabbed or begun.
    """

    grip: Grip
    origin: Marks
    before: Marks


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """A set-up.

    Attributes
    ----------
    height_px, width_px : the picture.
    outlet : the outlet that it began with; says what the marks do not.
    now : the marks as they stand.
    saved : the marks as the file has them.
    selected : the mark that keys move; None where there is none.
    hold : the mark that is being dragged; None while none is.
    past, future : the marks before each step, oldest first, and after each that was taken back,
        the next one last.
    nudged : the last step was keys moving this mark; more of the same belong to that step.
    """

    height_px: int
    width_px: int
    outlet: Outlet = field(default_factory=Outlet)
    now: Marks = field(default_factory=Marks)
    saved: Marks = field(default_factory=Marks)
    selected: Mark | None = Mark.LINE
    hold: Hold | None = None
    past: tuple[Marks, ...] = ()
    future: tuple[Marks, ...] = ()
    nudged: Mark | None = None

    @property
    def along_px(self) -> int:
        """How long the picture is along the fall."""
        return self.height_px if self.now.direction.vertical else self.width_px

    @property
    def unsaved(self) -> bool:
        """Whether the file says anything else than the marks."""
        return replace(self.now, ruler=None) != replace(self.saved, ruler=None)


def set_up(height_px: int, width_px: int, outlet: Outlet | None = None) -> SetUp:
    """Return the set-up of a picture of this size, with what the outlet says already."""
    outlet = outlet or Outlet()
    marks = marks_of(outlet)
    return SetUp(height_px=height_px, width_px=width_px, outlet=outlet, now=marks, saved=marks)


def stepped(setup: SetUp, marks: Marks, *, nudged: Mark | None = None) -> SetUp:
    """Return the set-up with other marks, as a step that can be taken back."""
    if marks == setup.now:
        return setup
    goes_on = nudged is not None and nudged is setup.nudged and bool(setup.past)
    past = setup.past if goes_on else (*setup.past, setup.now)[-MOST_STEPS:]
    return replace(setup, now=marks, past=past, future=(), nudged=nudged)


def undone(setup: SetUp) -> SetUp:
    """Take back the last step."""
    if not setup.past or setup.hold is not None:
        return setup
    *past, marks = setup.past
    future = (*setup.future, setup.now)
    return replace(setup, now=marks, past=tuple(past), future=future, nudged=None)


def redone(setup: SetUp) -> SetUp:
    """Take the step again that was taken back last."""
    if not setup.future or setup.hold is not None:
        return setup
    *future, marks = setup.future
    past = (*setup.past, setup.now)
    return replace(setup, now=marks, past=past, future=tuple(future), nudged=None)


def selecting(setup: SetUp, mark: Mark | None) -> SetUp:
    """Return the set-up with this mark selected."""
    return replace(setup, selected=mark, nudged=None)
