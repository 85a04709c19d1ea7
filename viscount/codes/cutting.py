"""What there is to say of the plan of a cut, and of what it left in the bag.

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
    "bag_parts_unsure": (
        "a part came to the blade so near to its stroke that it may be in this bag or the next",
        "count the bag by hand; command the cut in the middle of the gap, see `viscount cut`",
    ),
    "bag_pinched": (
        "a part was in the blade's way: it may be pinched, in the bag or on the blade",
        "look at the blade and count the bag by hand; command the cut in the middle of the gap",
    ),
    "bag_count_doubtful": (
        "the count that the bag rests on is doubtful, and so is the bag",
        "mend what the count's reasons name; count the bag by hand",
    ),
    "bag_held_unknown": (
        "the gate stood shut when the recording began, and nobody said what lay on the blade",
        "say with --held N how many parts lay there, or begin with the gate open and empty",
    ),
    "bag_not_shut": (
        "the recording or the gate's log ends before the bag was shut",
        "let both run on until the gate is shut and the stream still",
    ),
    "bag_few_strokes": (
        "too few strokes were measured to say how much the next one differs",
        "measure five strokes or more, and better twenty",
    ),
    "gate_never_opened": (
        "by its log the gate never opened: nothing fell into a bag",
        "see that the log is of this recording, and that it holds the commands to open",
    ),
    "gate_log_outside": (
        "none of the gate's commands falls into the recording",
        "see that the log is of this recording, and which clock its times are on",
    ),
    "gate_log_untimed": (
        "no fitted clock turns the times of the gate's log into those of the recording",
        "give the beam's log of the same board too, or log the commands on the capture clock",
    ),
}
