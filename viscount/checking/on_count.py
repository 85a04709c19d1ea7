"""What counting the recording brought up: what is the recording's fault, and what the count's."""

from collections.abc import Iterator, Sequence

from viscount.checking.finding import Finding, doubt, note, refusal
from viscount.codes import Code
from viscount.values import Level, Notice

_SAID_ELSEWHERE = frozenset({Code.FRAMES_LOST, Code.LIGHT_CHANGED, Code.LINE_NEAR_EDGE})
"""Notices of the pipeline about what is measured here more closely."""

_OF_THE_RECORDING = frozenset(
    {
        Code.NO_BACKGROUND,
        Code.BLIND,
        Code.NOTHING_SEEN,
        Code.TOO_FEW_SIGHTINGS,
        Code.SPEED_UNLIKE_SETTING,
        Code.PARTS_IN_FIRST_FRAME,
        Code.PART_AT_REST,
        Code.PART_STUCK,
        Code.SIGHTINGS_LEFT_OVER,
        Code.DETECTOR_FAILED,
    }
)
"""Notices of the pipeline that are about the recording; the others are about the count."""


def count_findings(
    notices: Sequence[Notice], *, anything: bool, at_rest: bool = True, said: Sequence[Finding] = ()
) -> Iterator[Finding]:
    """Pass on what the pipeline noticed; what is the count's to say becomes one note.

    Parameters
    ----------
    notices : of the whole run.
    anything : whether anything passed the line.
    at_rest : whether what lies still is as large as a part.
    said : what was measured here; as grave a notice of the same says nothing more.
    """
    known = {(one.code, one.level) for one in said}
    known |= {(code, Level.DOUBT) for code, level in known if level is Level.INVALID}
    grave = {Level.DOUBT: doubt, Level.INVALID: refusal, Level.INFO: note}
    of_count: list[Code] = []
    for notice in notices:
        rests = notice.code is Code.PART_AT_REST and at_rest
        level = Level.DOUBT if rests else notice.level
        if notice.code in _SAID_ELSEWHERE or (notice.code, level) in known:
            continue
        if notice.code is Code.PART_STUCK:
            yield doubt(notice.code, notice.text, "parts that fall freely")
        elif rests:
            yield doubt(notice.code, notice.text, "a view that clears after each part")
        elif notice.code in _OF_THE_RECORDING:
            yield grave[notice.level](notice.code, notice.text, where=notice.where)
        elif notice.level is not Level.INFO:
            of_count.append(notice.code)
    if not anything and not notices:
        yield doubt(Code.NOTHING_SEEN, Code.NOTHING_SEEN.meaning, "parts through the view")
    if of_count:
        words = ", ".join(dict.fromkeys(code.code.replace("_", " ") for code in of_count))
        yield note(Code.COUNT_IN_DOUBT, f"a count would say: {words}")
