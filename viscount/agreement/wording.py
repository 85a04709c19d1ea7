"""Why the counters differ at one pairing, in words for the packer."""

from collections.abc import Sequence

from viscount.agreement.events import Dark, Due
from viscount.values import Pairs

WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def why(kind: Pairs, dues: Sequence[Due], darks: Sequence[Dark], parts: int, excused: bool) -> str:
    """Return why, or nothing where the counters say the same."""
    match kind:
        case Pairs.AGREED:
            own = sum(due.arrival.passage.parts for due in dues)
            return (
                "" if own == abs(parts) else f"the beam says {word(parts)}, the camera {word(own)}"
            )
        case Pairs.MERGED_PULSE:
            return _merged(dues, darks, parts)
        case Pairs.SPLIT_PULSE:
            return f"{word(len(darks))} pulses of one part"
        case Pairs.AMBIGUOUS:
            return f"{word(len(dues))} passages and {word(len(darks))} pulses, entangled"
        case Pairs.CAMERA_ONLY:
            return _camera_only(dues[0], parts, excused)
        case Pairs.BEAM_ONLY:
            return _beam_only(darks, parts, excused)


def word(number: int) -> str:
    """Return a small number as a word."""
    return WORDS[abs(number)] if abs(number) < len(WORDS) else str(abs(number))


def _merged(dues: Sequence[Due], darks: Sequence[Dark], parts: int) -> str:
    length = 1e-3 * (darks[0].end_us - darks[0].start_us)
    said = f"one pulse of {length:.1f} ms for {word(parts)} parts"
    if len(dues) < 2:
        return said
    apart = 1e-3 * (dues[-1].at_us - dues[0].at_us)
    usual = dues[0].own.usual_us
    if usual is not None and length > 1.25e-3 * usual:
        said = f"one long pulse for {word(parts)} parts"
    return f"{said} {apart:.1f} ms apart" if len(dues) == 2 else f"{said} within {apart:.1f} ms"


def _camera_only(due: Due, parts: int, excused: bool) -> str:
    if parts == 0:
        return "the camera was not sure of a part, and the beam saw none"
    if due.sign < 0:
        return "a part on its way back up"
    return "the beam was not watched" if excused else "the beam missed it"


def _beam_only(darks: Sequence[Dark], parts: int, excused: bool) -> str:
    if parts == 0:
        usual = darks[0].own.usual_us
        length = darks[0].end_us - darks[0].start_us
        if usual is not None and length < 0.5 * usual:
            return "a pulse too short for a part"
        return "a pulse that no part explains"
    if excused:
        return "in the camera's blind time"
    return "the camera missed it"
