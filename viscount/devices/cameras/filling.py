"""A folder that fills with pictures, as a camera."""

from collections.abc import Iterator
from pathlib import Path

from pydantic import Field

from viscount.clock import Clock
from viscount.devices.cameras.album import SUFFIXES, natural_key, read_still
from viscount.devices.cameras.live import LiveCamera
from viscount.devices.cameras.stills import GreyDepth
from viscount.errors import SourceError
from viscount.seams import Aim, Options
from viscount.values import Frame


class FillingOptions(Options):
    """Options of the camera `folder`.

    `look_ms` is how often the folder is looked at, `silent_s` after how long without a new
    picture it is given up as lost; 0 waits for ever. With `old`, pictures that lie there already
    come first.
    """

    look_ms: float = Field(20.0, gt=0, le=10_000)
    silent_s: float = Field(0.0, ge=0)
    old: bool = False


class FillingFolderCamera(LiveCamera):
    """Hands on each picture that is put into a folder; its time is that of the file.

    A picture is taken once it no longer grows from one look to the next and can be decoded.

    Parameters
    ----------
    options : see `FillingOptions`.
    aim : the address is the folder.

    Raises
    ------
    SourceError : there is no such folder.
    """

    def __init__(self, options: FillingOptions, aim: Aim, *, clock: Clock | None = None) -> None:
        super().__init__(clock)
        self._options = options
        self._folder = Path(aim.address)
        if not self._folder.is_dir():
            raise SourceError(
                "there is no such folder", where=aim.address, remedy="create it, or check the path"
            )
        self._done: set[str] = set()
        self._sizes: dict[str, int] = {}
        self._failed: dict[str, int] = {}
        self._shape: tuple[int, ...] | None = None
        self._depth: GreyDepth | None = None
        if not options.old:
            self._done = {path.name for path in self._pictures()}

    def _come(self) -> Iterator[Frame]:
        """Yield the pictures as they come."""
        heard_ns = self._clock.now_ns()
        while True:
            for path in self._ready():
                frame = self._frame(path)
                if frame is not None:
                    heard_ns = self._clock.now_ns()
                    yield frame
                if self._alarm.rung:
                    return
            silent_ns = self._clock.now_ns() - heard_ns
            if self._options.silent_s and silent_ns > 1e9 * self._options.silent_s:
                raise SourceError(
                    f"no new picture for {silent_ns * 1e-9:.1f} s", where=str(self._folder)
                )
            if self._alarm.wait(1e-3 * self._options.look_ms):
                return

    def _pictures(self) -> list[Path]:
        try:
            found = [
                path
                for path in self._folder.iterdir()
                if path.suffix.lower() in SUFFIXES and not path.name.startswith(".")
            ]
        except OSError as error:
            raise SourceError(
                f"the folder cannot be read ({error.strerror})", where=str(self._folder)
            ) from error
        return sorted(found, key=natural_key)

    def _ready(self) -> list[Path]:
        """Return the new pictures that have stopped growing, in order of their names."""
        ready = []
        for path in self._pictures():
            if path.name in self._done:
                continue
            try:
                size = path.stat().st_size
            except OSError:
                continue
            if size and self._sizes.get(path.name) == size and self._failed.get(path.name) != size:
                ready.append(path)
            self._sizes[path.name] = size
        return ready

    def _frame(self, path: Path) -> Frame | None:
        raw, cut = read_still(path)
        if raw is None:
            # Somebody may still be writing it, and only be slow.
            self._failed[path.name] = self._sizes[path.name]
            return None
        self._done.add(path.name)
        self._sizes.pop(path.name, None)
        self._failed.pop(path.name, None)
        if self._shape is not None and raw.shape != self._shape:
            return None
        if self._depth is None:
            self._depth = GreyDepth(raw)
        self._shape = raw.shape
        try:
            taken_ns = path.stat().st_mtime_ns
        except OSError:
            return None
        age_ns = round(self._clock.date().timestamp() * 1e9) - taken_ns
        return self._made.frame(taken_ns, self._depth.shown(raw), age_ns=age_ns, damaged=cut)
