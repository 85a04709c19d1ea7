"""Reads a stored tally back, as far as its camera counted: the JSON of ``viscount count``."""

import json
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from viscount.codes import Code
from viscount.errors import SourceError
from viscount.tally import (
    SCHEMA,
    Assumption,
    Bag,
    CameraTally,
    CountedPassage,
    FileMark,
    FrameTally,
    Reason,
    SetUp,
    SpacingTally,
    Spread,
    Tally,
)
from viscount.values import Basis, Direction, Falls, LampEvent, Passage, Status

_FAMILY = SCHEMA.rsplit("/", 1)[0]
_NO_TALLY = "is no tally"
_ALLOWED = f"the JSON of `viscount count --json`, schema {SCHEMA}"

Model = TypeVar("Model", bound=BaseModel)
Natural = Annotated[int, Field(ge=0)]
Chance = Annotated[float, Field(ge=0, le=1)]


class _Read(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False)


class _File(_Read):
    name: str
    sha256: str

    def mark(self) -> FileMark:
        return FileMark(name=self.name, sha256=self.sha256)


class _Reason(_Read):
    code: Code
    text: str

    def reason(self) -> Reason:
        return Reason(code=self.code, text=self.text)


class _Assumed(_Reason):
    value: bool | int | float | str | None = None
    unit: str | None = None


class _Camera(_Read):
    count: int
    against: Natural
    status: Status
    reasons: list[_Reason]


class _Passage(_Read):
    id: Natural
    pour: Annotated[int, Field(ge=1)]
    time_s: float
    sigma_s: Annotated[float, Field(ge=0)]
    direction: Direction
    basis: Basis
    speed_px_s: float
    speed_mm_s: float | None
    across_px: float
    length_px: float | None = None
    parts: Natural
    doubt: Chance
    frames: tuple[Natural, Natural]

    def counted(self) -> CountedPassage:
        passage = Passage(
            id=self.id,
            t_ns=round(1e9 * self.time_s),
            sigma_ns=round(1e9 * self.sigma_s),
            direction=self.direction,
            basis=self.basis,
            speed_px_s=self.speed_px_s,
            across_px=self.across_px,
            length_px=self.length_px,
            parts=self.parts,
            doubt=self.doubt,
            first_frame=self.frames[0],
            last_frame=self.frames[1],
        )
        return CountedPassage(pour=self.pour, passage=passage, speed_mm_s=self.speed_mm_s)


class _Frames(_Read):
    read: Natural
    lost: Natural
    repeated: Natural
    damaged: Natural
    rate_hz: float | None
    blind: list[tuple[float, float]]
    end_s: float | None = None


class _Spread(_Read):
    min: float
    p05: float
    p50: float
    p95: float
    max: float


class _Spacing(_Read):
    n: Natural
    spacing_mm: _Spread | None
    interval_ms: _Spread | None
    gap_ms: _Spread | None


class _SetUp(_Read):
    falls: Falls
    line_px: float
    view_px: float
    scale_px_per_mm: float | None
    acceleration_px_s2: float | None
    head_share: Chance
    quiet_s: Annotated[float, Field(gt=0)]


class _LampEvent(_Read):
    time_s: float
    on: bool
    sigma_s: Annotated[float, Field(ge=0)]

    def event(self) -> LampEvent:
        at, sigma = round(1e9 * self.time_s), round(1e9 * self.sigma_s)
        return LampEvent(t_ns=at, on=self.on, sigma_ns=sigma)


class _Bag(_Read):
    number: Annotated[int, Field(ge=1)]
    content: int
    low: int
    high: int
    chance: Chance
    held_before: Natural | None
    held_after: Natural | None
    pinched: Natural | None
    status: Status
    reasons: list[_Reason]

    def bag(self) -> Bag:
        own = self.model_dump(exclude={"reasons"})
        return Bag(**own, reasons=tuple(one.reason() for one in self.reasons))


class _Tally(_Read):
    made_by: str
    source: str
    outlet: _File | None
    part: _File | None
    started_at: str | None
    count_low: int
    count_high: int
    confidence: float
    expected: Natural | None
    counted_at: Literal["above_blade", "below_blade", "unknown"]
    status: Status
    reasons: list[_Reason]
    assumed: list[_Assumed]
    camera: _Camera
    passages: list[_Passage]
    frames: _Frames
    spacing: _Spacing | None
    beam: dict[str, Any] | None
    set_up: _SetUp | None = None
    lamp: list[_LampEvent] | None = None
    in_bag: int | None = None
    held: Natural | None = None
    bags: list[_Bag] = []


def read_tally(path: str | Path) -> Tally:
    """Return what the camera of a stored tally counted, ready to be compared with a beam.

    Pours, beam, agreement and check of the file are left out: comparing makes them anew.

    Raises
    ------
    SourceError : for a file that cannot be read, is no tally, or is of a newer schema.
    """
    return _tally(validated(_Tally, path))


def validated(model: type[Model], path: str | Path) -> Model:
    """Return what a model takes of a stored tally; errors as of `read_tally`."""
    path = Path(path)
    data = _data(path)
    _require_schema(data, path)
    try:
        return model.model_validate(data)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(one) for one in first["loc"])
        raise SourceError(
            f"the tally's {place or 'content'}: {first['msg'].lower()}",
            where=str(path),
            allowed=_ALLOWED,
            remedy="count the recording again",
        ) from None


def _data(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise SourceError(
            f"the tally cannot be read ({error.strerror or error})",
            where=str(path),
            remedy="check the path",
        ) from None
    except (ValueError, RecursionError):
        raise SourceError(
            f"the file {_NO_TALLY}: it is not JSON", where=str(path), allowed=_ALLOWED
        ) from None


def _require_schema(data: Any, path: Path) -> None:
    schema = data.get("schema") if isinstance(data, dict) else None
    if schema == SCHEMA:
        return
    if isinstance(schema, str) and schema.startswith(f"{_FAMILY}/"):
        raise SourceError(
            f"a tally of schema {schema[:60]}",
            where=str(path),
            allowed=SCHEMA,
            remedy="use the version of viscount that made it, or a newer one",
        )
    raise SourceError(
        f"the file {_NO_TALLY}: it does not state its schema", where=str(path), allowed=_ALLOWED
    )


def _tally(read: _Tally) -> Tally:
    camera, frames = read.camera, read.frames
    status = camera.status
    return Tally(
        made_by=read.made_by,
        source=read.source,
        outlet=None if read.outlet is None else read.outlet.mark(),
        part=None if read.part is None else read.part.mark(),
        started_at=None,
        count=None if status is Status.INVALID else camera.count - camera.against,
        count_low=read.count_low,
        count_high=read.count_high,
        confidence=read.confidence,
        expected=read.expected,
        counted_at=read.counted_at,
        in_bag=read.in_bag,
        held=read.held,
        status=status,
        reasons=tuple(one.reason() for one in camera.reasons),
        assumed=tuple(
            Assumption(code=one.code, text=one.text, value=one.value, unit=one.unit)
            for one in read.assumed
            if not one.code.value.startswith("beam_")
        ),
        notes=(),
        camera=CameraTally(
            count=camera.count,
            against=camera.against,
            status=status,
            reasons=tuple(one.reason() for one in camera.reasons),
        ),
        pours=(),
        passages=tuple(one.counted() for one in read.passages),
        frames=FrameTally(
            read=frames.read,
            lost=frames.lost,
            repeated=frames.repeated,
            damaged=frames.damaged,
            rate_hz=frames.rate_hz,
            blind=tuple(frames.blind),
            end_s=frames.end_s,
        ),
        spacing=_spacing(read.spacing),
        set_up=None if read.set_up is None else SetUp(**read.set_up.model_dump()),
        lamp=None if read.lamp is None else tuple(one.event() for one in read.lamp),
        bags=tuple(one.bag() for one in read.bags),
    )


def _spacing(read: _Spacing | None) -> SpacingTally | None:
    if read is None:
        return None
    made = {
        key: None if one is None else Spread(**one.model_dump())
        for key, one in (
            ("spacing_mm", read.spacing_mm),
            ("interval_ms", read.interval_ms),
            ("gap_ms", read.gap_ms),
        )
    }
    return SpacingTally(n=read.n, **made)
