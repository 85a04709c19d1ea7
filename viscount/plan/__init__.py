"""Sums before buying: what a drop, a rate and a camera come to, in closed form."""

from viscount.plan.answer import Answer, Need, answer
from viscount.plan.barrier import Beam, BeamRow
from viscount.plan.camera import CameraRow, Shot
from viscount.plan.coil import ClampRow, Coil, clamp_rows
from viscount.plan.cut import Cut, Gate, cut
from viscount.plan.stream import Drop, HeightRow, Magazine, Pair, Steady

__all__ = [
    "Answer",
    "Beam",
    "BeamRow",
    "CameraRow",
    "ClampRow",
    "Coil",
    "Cut",
    "Drop",
    "Gate",
    "HeightRow",
    "Magazine",
    "Need",
    "Pair",
    "Shot",
    "Steady",
    "answer",
    "clamp_rows",
    "cut",
]
