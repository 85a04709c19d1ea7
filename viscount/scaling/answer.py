"""What a look for scale and line time comes to."""

from dataclasses import dataclass

from viscount.codes import Code
from viscount.measure.line_time.estimate import LineBy, LineTime
from viscount.measure.scale.way import Together, Way
from viscount.tally import FileMark
from viscount.values import Level, Notice, Status


@dataclass(frozen=True, slots=True, kw_only=True)
class Scaled:
    """Scale and line time of a camera at an outlet.

    Attributes
    ----------
    sources : files that were looked at.
    outlet : the outlet file, or None.
    ways : each way to the scale that was tried, those that were refused too.
    scale : all of them together; None where none gave one, or they disagree.
    line_ways, line_time : the same for the line time; what was found best.
    old_scale_px_per_mm, old_line_time_us : what the outlet says now.
    notices : what there is to say beyond the ways' own.
    """

    made_by: str
    sources: tuple[str, ...]
    outlet: FileMark | None
    ways: tuple[Way, ...]
    scale: Together | None
    line_ways: tuple[LineTime, ...]
    line_time: LineTime | None
    old_scale_px_per_mm: float | None
    old_line_time_us: float | None
    notices: tuple[Notice, ...]

    @property
    def reasons(self) -> tuple[Notice, ...]:
        """Everything that there is to say, of the ways and beyond, each once."""
        own = [n for way in self.ways for n in way.notices]
        lines = [n for way in self.line_ways for n in way.notices]
        return tuple(dict.fromkeys([*self.notices, *own, *lines]))

    @property
    def status(self) -> Status:
        """Clean; doubtful, or with one way of several refused; invalid where nothing was found."""
        lines = [way for way in self.line_ways if way.by is not LineBy.FALL]
        if self.scale is None and self.line_time is None:
            some = any(way.value is not None for way in self.ways)
            some = some or any(way.seconds is not None for way in lines)
            return Status.DOUBTFUL if some else Status.INVALID
        short = (self.ways and self.scale is None) or (lines and self.line_time is None)
        # That a fall could not tell its acceleration says nothing against another way.
        said = [n for n in self.reasons if n.code is not Code.ACCELERATION_UNKNOWN]
        doubted = any(notice.level is not Level.INFO for notice in said)
        return Status.DOUBTFUL if doubted or short else Status.CLEAN
