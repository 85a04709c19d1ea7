"""Albums of still pictures: a folder, a single picture, a TIFF of many pages, a moving WebP.

Pictures come one by one as OpenCV decodes them to grey, 8 or 16 bits deep; None stands for one
that cannot be decoded.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from viscount.clips.container import require_readable
from viscount.clips.tiff import read_page_chain
from viscount.errors import SourceError

SUFFIXES = frozenset(
    {".bmp", ".dib", ".jpe", ".jpeg", ".jpg", ".jp2", ".pbm", ".pgm", ".png", ".pnm", ".ppm"}
    | {".tif", ".tiff", ".webp"}
)

Raw = NDArray[np.uint8] | NDArray[np.uint16]

_AS_GREY = cv2.IMREAD_GRAYSCALE | cv2.IMREAD_ANYDEPTH
_JPEG_START, _JPEG_END = b"\xff\xd8", b"\xff\xd9"


class Still(NamedTuple):
    """One picture of an album.

    Attributes
    ----------
    place : how many steps after the first picture it was taken.
    seq : its number in the file name, or None.
    t_ns : its own time where the album is timed, else None.
    pixels : (H, W), or None where it cannot be decoded.
    damaged : it was decoded, but is cut short.
    """

    place: int
    seq: int | None
    t_ns: int | None
    pixels: Raw | None
    damaged: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Album:
    """A set of stills.

    Attributes
    ----------
    container, codec : short names, for the report.
    pictures : how many there are said to be.
    timed : the pictures carry times of their own.
    whole : nothing is missing at its end.
    stills : starts to read them, from the first.
    """

    container: str
    codec: str
    pictures: int
    timed: bool
    whole: bool
    stills: Callable[[], Iterator[Still]]


def open_album(path: Path) -> Album:
    """Return the album at `path`.

    Raises
    ------
    SourceError : nothing there can be read as pictures.
    """
    if path.is_dir():
        return _folder(path)
    require_readable(path)
    chain = read_page_chain(path)
    if chain is not None and (chain.pages > 1 or not chain.whole):
        return Album(
            container="tiff",
            codec="tiff",
            pictures=chain.pages,
            timed=False,
            whole=chain.whole,
            stills=lambda: _pages(path, chain.pages),
        )
    if is_moving_webp(path):
        return _moving_webp(path)
    return _files("file", [path])


def is_moving_webp(path: Path) -> bool:
    """Whether this is a WebP file with the animation flag (RFC 9649, section 2.7)."""
    with path.open("rb") as file:
        head = file.read(21)
    return head[:4] == b"RIFF" and head[8:16] == b"WEBPVP8X" and bool(head[20] & 0x02)


def is_moving_png(path: Path) -> bool:
    """Whether this is a PNG file with an animation chunk before its picture data."""
    with path.open("rb") as file:
        head = file.read(65536)
    return head[:8] == b"\x89PNG\r\n\x1a\n" and b"acTL" in head.partition(b"IDAT")[0]


def _folder(path: Path) -> Album:
    try:
        files = [
            file
            for file in path.iterdir()
            if file.suffix.lower() in SUFFIXES and not file.name.startswith(".")
        ]
    except OSError as error:
        raise SourceError(
            f"the folder cannot be read ({error.strerror})", where=str(path)
        ) from error
    if not files:
        raise SourceError(
            "the folder holds no pictures",
            where=str(path),
            allowed=" ".join(sorted(SUFFIXES)),
            remedy="name the folder with the pictures itself",
        )
    return _files("folder", sorted(files, key=natural_key))


def _files(container: str, files: Sequence[Path]) -> Album:
    numbers = _numbers([file.stem for file in files])

    def stills() -> Iterator[Still]:
        for index, file in enumerate(files):
            seq = numbers[index] if numbers else None
            place = numbers[index] - numbers[0] if numbers else index
            pixels, damaged = read_still(file)
            yield Still(place, seq, None, pixels, damaged)

    return Album(
        container=container,
        codec=files[0].suffix.lower().lstrip("."),
        pictures=len(files),
        timed=False,
        whole=True,
        stills=stills,
    )


def natural_key(file: Path) -> list[str | int]:
    """Sort numbers by value: shot-9 before shot-10."""
    words = re.split(r"(\d+)", file.name.lower())
    return [int(word) if word.isdigit() else word for word in words]


def _numbers(stems: Sequence[str]) -> list[int] | None:
    """Return the running number in the names; None where there is none.

    It is the one number that differs from name to name, and mostly grows by one, so that a
    missing picture leaves a gap.
    """
    words = {tuple(re.split(r"\d+", stem)) for stem in stems}
    columns = list(zip(*(map(int, re.findall(r"\d+", stem)) for stem in stems), strict=False))
    running = [column for column in columns if len(set(column)) > 1]
    if len(words) > 1 or len(running) != 1:
        return None
    steps = np.diff(np.array(running[0], np.float64))
    return list(running[0]) if (steps > 0).all() and np.median(steps) == 1 else None


def read_still(file: Path) -> tuple[Raw | None, bool]:
    """Return a file's picture, None where there is none, and whether it is cut short."""
    try:
        data = file.read_bytes()
    except OSError:
        return None, True
    cut = data.startswith(_JPEG_START) and _JPEG_END not in data[-65536:]
    if not data:
        return None, True
    with _quiet():
        try:
            decoded = cv2.imdecode(np.frombuffer(data, np.uint8), _AS_GREY)
        except cv2.error:
            decoded = None
    return _usable(decoded), cut


def jpeg_is_whole(data: bytes) -> bool:
    """Whether a JPEG picture ends with its end marker, padding left out (ITU-T T.81, B.1.1.3)."""
    return data[-65536:].rstrip(b"\0").endswith(_JPEG_END)


def _pages(path: Path, pages: int) -> Iterator[Still]:
    for page in range(pages):
        with _quiet():
            try:
                _, decoded = cv2.imreadmulti(str(path), page, 1, flags=_AS_GREY)
            except cv2.error:
                decoded = ()
        yield Still(page, None, None, _usable(decoded[0] if decoded else None))


def _moving_webp(path: Path) -> Album:
    if not hasattr(cv2, "imreadanimation"):
        raise SourceError(
            f"OpenCV {cv2.__version__} cannot read a moving WebP",
            where=str(path),
            remedy="install OpenCV 4.11 or later, or convert it to MP4",
        )
    with _quiet():
        _, animation = cv2.imreadanimation(str(path))
    ends_ms = np.cumsum([0, *animation.durations])

    def stills() -> Iterator[Still]:
        for index, frame in enumerate(animation.frames):
            grey = cv2.cvtColor(frame, cv2.COLOR_BGRA2GRAY)
            yield Still(index, None, int(ends_ms[index]) * 1_000_000, _usable(grey))

    return Album(
        container="webp",
        codec="webp",
        pictures=len(animation.frames),
        timed=True,
        whole=True,
        stills=stills,
    )


def _usable(decoded: object) -> Raw | None:
    if not isinstance(decoded, np.ndarray) or decoded.ndim != 2:
        return None
    return decoded if decoded.dtype in (np.uint8, np.uint16) else None


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep OpenCV from printing what the report says in its place."""
    # OpenCV 5 has moved this function.
    set_level = getattr(cv2.utils, "logging", cv2).setLogLevel
    level = set_level(0)
    try:
        yield
    finally:
        set_level(level)
