"""A stored tally beside a beam log: the same answer as counting with that log."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from viscount.counters.both import with_beam
from viscount.counters.camera_only import without_beam
from viscount.errors import SourceError
from viscount.offline.bags import bags_again
from viscount.offline.beam_file import beam_seen
from viscount.offline.outlets import outlet_of_tally
from viscount.outlet import Outlet, Part
from viscount.tally import Tally


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
    loaded, outlet_mark, part_mark = outlet_of_tally(tally, outlet, part, settings)
    camera = without_beam(replace(tally, outlet=outlet_mark, part=part_mark))
    both = with_beam(camera, beam_seen(beam, loaded), loaded, tally.set_up)
    return bags_again(both, len({one.pour for one in tally.passages}))
