"""What there is to say of the plan of a cut.

For each code what it means, in a sentence without figures, and what to do about it.
"""

from typing import Final

TEXTS: Final[dict[str, tuple[str, str]]] = {
    "cut_count_doubtful": (
        "a count that the plan rests on is doubtful, and so is the plan",
        "mend what the count's reasons name, and measure that pour again",
    ),
    "cut_parts_doubted": (
        "the promise ends at parts that may have been miscounted",
        "recount the marked places on the line strip; let parts pass one by one",
    ),
    "cut_edge_hidden": (
        "parts come to the beam without light between them, so that the board misses their edges",
        "put the beam lower, or let parts go farther apart",
    ),
    "cut_too_few": (
        "fewer pours or strokes were measured than a promise at the wanted rate takes",
        "measure more pours and strokes; until then the chances are estimates with wide limits",
    ),
}
