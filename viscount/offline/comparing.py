"""A stored tally beside a beam log: the same answer as counting with that log."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from viscount.codes import Code
from viscount.counters.both import with_beam
from viscount.counters.camera_only import without_beam
from viscount.errors import SourceError, UsageError, ViscountError
from viscount.offline.beam_file import beam_seen
from viscount.outlet import Outlet, Part, marked_outlet, marked_part, outlet_with
from viscount.tally import FileMark, Tally


def compare(
    tally: Tally,
    beam: str | Path,
    *,
    outlet: str | Path | Outlet | None = None,
    part: str | Path | Part | None = None,
    settings: Sequence[str] = (),
) -> Tally:
    """Return the tally of both counters.

    Parameters
    ----------
    tally : of a count; what it says of a beam already is replaced.
    beam : the beam's log.
    outlet : says where the beam stands and how wide it is. None takes the file that the count
        was made with, which must be unchanged.
    part : stands over the outlet's own; None takes the count's, in the same way.
    settings : ``key=value`` texts that stand over the outlet file, beside those of the count.

    Raises
    ------
    viscount.errors.ViscountError : for input that cannot be read or does not fit.
    """
    if tally.set_up is None:
        raise SourceError(
            "a tally without `set_up`, which says where the line was",
            where=tally.source,
            remedy="count the recording again with this version",
        )
    if outlet is None and tally.outlet is not None:
        outlet = _unchanged(tally.outlet, "--outlet")
    if part is None and tally.part is not None:
        part = _unchanged(tally.part, "--part")
    loaded, outlet_mark = marked_outlet(outlet)
    loaded, _ = outlet_with(loaded, [*_given(tally), *settings])
    own_part, part_mark = marked_part(part)
    if own_part is not None:
        loaded = loaded.model_copy(update={"part": own_part})
    camera = without_beam(replace(tally, outlet=outlet_mark, part=part_mark))
    return with_beam(camera, beam_seen(beam, loaded), loaded, tally.set_up)


def _given(tally: Tally) -> list[str]:
    """Return the settings of the command line that the count was made with."""
    made = (a for a in tally.assumed if a.code is Code.SETTING_FROM_COMMAND_LINE)
    return [f"{one.text.split(' ', 1)[0]}={one.value}" for one in made]


def _unchanged(mark: FileMark, option: str) -> Path:
    """Return the file that a tally names, if it is still the same."""
    path = Path(mark.name)
    try:
        _, found = marked_outlet(path) if option == "--outlet" else marked_part(path)
    except (OSError, ViscountError):
        found = None
    if found is None or found.sha256 != mark.sha256:
        raise UsageError(
            f"the tally rests on {mark.name}, which is not there any more or has changed",
            where=option,
            remedy=f"name the file with {option}",
        )
    return path
