"""The file of a run: what it rests on in the first line, then one finished pour a line."""

import hashlib
import json
import platform
import subprocess
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Final, Self

import cv2
from benchmarks.accuracy.baseline import opencv_major
from benchmarks.accuracy.cases import SPACE
from benchmarks.pours.pour import Pour

import viscount
from viscount.errors import UsageError

SCHEMA: Final = "viscount.pours/1"
PACKAGE: Final = Path(viscount.__file__).resolve().parent
WORDS: Final = {
    "schema": "the form of the file",
    "seed": "the seed",
    "pours": "the number of pours",
    "space_sha256": "the SHA-256 of scene_space.yaml",
    "source_sha256": "the SHA-256 of the source",
    "viscount": "the version of viscount",
    "commit": "the commit",
    "opencv_major": "the major version of OpenCV",
}
"""What must be the same for pours to stand in one file, in words."""
JUDGES: Final = Path(__file__).resolve().parents[1] / "accuracy"


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What a run rests on; pours of two different heads do not belong in one file.

    Attributes
    ----------
    seed : of the first pour; pour k has the seed `seed` + k.
    pours : how many there will be. It is set before the first one, and stays.
    space_sha256 : of the file from which they are drawn.
    source_sha256 : of all modules that simulate, count and judge.
    commit : of the folder that holds the package, with "-dirty" where it differs from that.
    versions : of what else can move a figure.
    """

    seed: int
    pours: int
    space_sha256: str
    source_sha256: str
    viscount: str
    commit: str
    opencv_major: str
    versions: dict[str, str]
    schema: str = SCHEMA

    @classmethod
    def of_today(cls, seed: int, pours: int) -> Self:
        """Return the head of a run that starts now."""
        return cls(
            seed=seed,
            pours=pours,
            space_sha256=hashlib.sha256(SPACE.read_bytes()).hexdigest(),
            source_sha256=_source_sha256(),
            viscount=viscount.__version__,
            commit=_commit(),
            opencv_major=opencv_major(),
            versions={"python": platform.python_version(), "opencv": cv2.__version__}
            | {name: version(name) for name in ("numpy", "scipy", "av")},
        )

    @property
    def seeds(self) -> range:
        """The seeds of all its pours."""
        return range(self.seed, self.seed + self.pours)


def begin(path: Path, head: Head) -> None:
    """Write a new file that holds a head and no pours; it is never seen half written."""
    path.parent.mkdir(parents=True, exist_ok=True)
    written = path.with_name(f"{path.name}.new")
    written.write_text(json.dumps(asdict(head)) + "\n", encoding="utf-8")
    written.replace(path)


def read(path: Path) -> tuple[Head, dict[int, Pour]]:
    """Return the head and the finished pours by seed; a half-written last line is cut off.

    Raises
    ------
    UsageError
        Where the file is no record of pours, or a line in it is damaged.
    """
    written = path.read_bytes()
    whole = written[: written.rfind(b"\n") + 1]
    try:
        first, *lines = whole.decode("utf-8").splitlines() or [""]
        head = Head(**json.loads(first))
    except (ValueError, TypeError) as error:
        raise UsageError(
            "not a record of pours", where=str(path), remedy="name another file, or remove this one"
        ) from error
    pours: dict[int, Pour] = {}
    for number, line in enumerate(lines, start=2):
        try:
            pour = Pour.from_line(line)
        except ValueError:
            pour = None
        if pour is None or pour.seed not in head.seeds or pour.seed in pours:
            raise UsageError(
                "holds no pour of this run, or one that stands above already",
                where=f"{path}, line {number}",
                remedy="remove the line, and that pour is done again",
            )
        pours[pour.seed] = pour
    if len(whole) < len(written):
        with path.open("rb+") as file:
            file.truncate(len(whole))
    return head, pours


def check_same(stored: Head, now: Head, path: Path) -> None:
    """Refuse to go on with a file whose pours rest on something else than this run would.

    Raises
    ------
    UsageError
        Names each thing that differs.
    """
    kept, today = asdict(stored), asdict(now)
    differ = [
        f"{words} is {today[key]}, and was {kept[key]}"
        for key, words in WORDS.items()
        if today[key] != kept[key]
    ]
    if differ:
        raise UsageError(
            "; ".join(differ),
            where=str(path),
            allowed="the run that the file was begun with, and nothing else",
            remedy="go back to that; or begin anew, with another file or without this one",
        )


def _source_sha256() -> str:
    digest = hashlib.sha256()
    for folder in (PACKAGE, JUDGES):
        for file in sorted(folder.rglob("*.py")):
            digest.update(file.relative_to(folder).as_posix().encode() + b"\0")
            digest.update(file.read_bytes() + b"\0")
    return digest.hexdigest()


def _commit() -> str:
    command = ["git", "describe", "--always", "--abbrev=40", "--exclude", "*", "--dirty"]
    try:
        done = subprocess.run(command, cwd=PACKAGE, check=True, capture_output=True, text=True)
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
    return done.stdout.strip()
