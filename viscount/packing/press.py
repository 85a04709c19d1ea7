"""Whether a press of the board's switch says that a bag is in place."""

FRESH_NS = 500_000_000
"""A press that is heard later than this says nothing any more: hands may be anywhere by then."""


def why_not(*, at_ns: int, now_ns: int, waits_since_ns: int | None) -> str:
    """Return in words why a press is not taken; nothing where it is.

    Parameters
    ----------
    at_ns, now_ns : when the switch was pressed, and when that is heard.
    waits_since_ns : since when a bag is waited for; None where none is.
    """
    if waits_since_ns is None:
        return "no bag is waited for"
    if at_ns <= waits_since_ns:
        return "it came before a bag was waited for"
    if now_ns - at_ns > FRESH_NS:
        late_ms = (now_ns - at_ns) // 1_000_000
        return f"it was heard {late_ms} ms late; press again"
    return ""
