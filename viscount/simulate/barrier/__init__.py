"""The light barrier beside the camera: its sensor, its board, and the log they leave."""

from viscount.simulate.barrier.board import BoardTruth, Watched, watched
from viscount.simulate.barrier.edge import BeamEdge
from viscount.simulate.barrier.log import write_beam_log
from viscount.simulate.barrier.switching import blocked_s

__all__ = ["BeamEdge", "BoardTruth", "Watched", "blocked_s", "watched", "write_beam_log"]
