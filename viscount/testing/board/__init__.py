"""A simulated board for tests, and what every board that speaks the protocol must do."""

from viscount.testing.board.blade import BladeMove, Place
from viscount.testing.board.check import check_board
from viscount.testing.board.gate import CoilChange
from viscount.testing.board.lossy import LossyChannel
from viscount.testing.board.recorded import check_recorded_lines
from viscount.testing.board.settings import BoardSettings
from viscount.testing.board.simulated import SimulatedBoard
from viscount.testing.board.switch_checks import SwitchOnTrial
from viscount.testing.board.trial import BoardOnTrial

__all__ = [
    "BladeMove",
    "BoardOnTrial",
    "BoardSettings",
    "CoilChange",
    "LossyChannel",
    "Place",
    "SimulatedBoard",
    "SwitchOnTrial",
    "check_board",
    "check_recorded_lines",
]
