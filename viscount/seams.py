"""The Protocols at the joints of the house, and the typed entries that hooks return."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar, runtime_checkable

from pydantic import BaseModel, ConfigDict

from viscount.values import Falls, Frame, Notice, Sighting

MadeT = TypeVar("MadeT")

API = 1
"""The number of the plugin interface. A plugin that states another one is refused."""


class Options(BaseModel):
    """The base of every plugin's options: frozen, and strict about unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """What a detector is told of the picture it will look at.

    The frames it is given are already cut to `region_px`; the positions it answers with are
    in those frames' own pixels.
    """

    falls: Falls = Falls.DOWN


@runtime_checkable
class Detector(Protocol):
    """Finds the regions that differ from the background.

    Frames come in order. A detector never keeps a frame's pixels after the call, and never
    writes to them.
    """

    def prime(self, frames: Sequence[Frame]) -> None:
        """Look at the run's first frames before the first `see`, to learn the background.

        Parts may be among them. The same frames are handed to `see` afterwards.
        """
        ...

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        """Return what stands out in this frame.

        With `learn=False` the background is left as it is.
        """
        ...


@runtime_checkable
class Camera(Protocol):
    """A source of frames, live or recorded. Use as a context manager.

    A live one waits in `frames` for each picture, and hands it on with the age that it has by
    then. It does not open itself again: whoever uses it closes it and makes another.

    Two attributes are optional. `recorded` is true where the frames lie ready and end: such a
    source is not opened again when it ends. `may_repeat` is true where a picture that equals the
    one before is no sign of a camera that hangs, as in clips whose coding leaves out what does
    not move; it is what `recorded` is where it is absent.
    """

    def frames(self) -> Iterator[Frame]:
        """Yield frames in order of presentation, the first at time zero.

        Their pixels stay as they are when later ones are asked for.

        Raises
        ------
        viscount.errors.SourceError : a live source is lost, or silent for too long.
        """
        ...

    def notices(self) -> tuple[Notice, ...]:
        """Return what there is to say of the source; complete once `frames` is exhausted."""
        ...

    def close(self) -> None:
        """Let go of the source; harmless when repeated.

        May be called while another thread waits in `frames`, which then ends soon.
        """
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What a camera is told beside its options.

    Attributes
    ----------
    address : which device, file, folder or network address; what it means is up to the camera.
    capture_fps : the outlet file's rate of capture in Hz, where a recording's own clock is not
        the capture's; else None.
    """

    address: str
    capture_fps: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry(Generic[MadeT]):
    """What a registration hook returns: one named maker.

    Attributes
    ----------
    api : the plugin interface it was written for; see `API`.
    name : what the outlet file calls it; lower case, digits and hyphens.
    summary : one line for `viscount plugins`.
    options : its options model, a subclass of `Options`.
    make : called with the options and what the hook says beside them, returns the thing itself.
    """

    api: int
    name: str
    summary: str
    options: type[Options]
    make: Callable[..., MadeT]
