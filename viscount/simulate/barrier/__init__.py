"""The light barrier beside the camera: its sensor, its board, and the log they leave."""

from viscount.simulate.barrier.board import BoardTruth, Watched, lit_s, watched
from viscount.simulate.barrier.edge import BeamEdge
from viscount.simulate.barrier.log import write_beam_log

__all__ = ["BeamEdge", "BoardTruth", "Watched", "lit_s", "watched", "write_beam_log"]
