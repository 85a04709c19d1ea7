"""What a live run is to do: everything that the engine process is handed as it starts."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from viscount.devices.beams.port import DEFAULT_SPEED
from viscount.outlet import Outlet
from viscount.packing.order import PackOrder
from viscount.tally import FileMark


@dataclass(frozen=True, slots=True, kw_only=True)
class LivePlan:
    """One live run.

    Attributes
    ----------
    source : as on the command line; see `viscount.devices.cameras.naming`.
    options : the camera's own.
    outlet, outlet_mark, part_mark, given : the settings in force, and where they come from.
    expected : the number that ought to be there, or None.
    quiet_s : a pour ends after this long without a moving part.
    for_s : the run ends after so long; None leaves it to whoever stops it.
    beam_port : serial port of the beam's board, or None.
    clip : where the pictures are recorded, or None. beam_log : where the edges are.
    lossless : record every pixel as it is.
    pack : bags to pack, or None; then no gate is touched.
    journal : where their records are added.
    """

    source: str
    options: Mapping[str, Any] = field(default_factory=dict)
    outlet: Outlet = field(default_factory=Outlet)
    outlet_mark: FileMark | None = None
    part_mark: FileMark | None = None
    given: Mapping[str, object] = field(default_factory=dict)
    expected: int | None = None
    quiet_s: float = 1.0
    for_s: float | None = None
    beam_port: str | None = None
    beam_speed: int = DEFAULT_SPEED
    clip: Path | None = None
    beam_log: Path | None = None
    lossless: bool = False
    pack: PackOrder | None = None
    journal: Path | None = None
