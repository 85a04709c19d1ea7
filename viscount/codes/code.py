"""Every reason and notice the program can give.

The word is part of the contract that other programs read; the text may be filled in with figures
where it is raised.
"""

from enum import StrEnum, auto

from viscount.codes import barrier, counting, cutting, live, scaling

_TEXTS = counting.TEXTS | barrier.TEXTS | cutting.TEXTS | live.TEXTS | scaling.TEXTS


class Code(StrEnum):
    """One kind of notice. Its value is the word that other programs read."""

    # the recording
    RECORDING_INCOMPLETE = auto()
    FRAMES_LOST = auto()
    FRAMES_DAMAGED = auto()
    FRAMES_REPEATED = auto()
    FRAMES_TORN = auto()
    FRAMES_UNTIMED = auto()
    GREY_DEPTH_ASSUMED = auto()
    CLOCK_VARIES = auto()
    CAPTURE_RATE_TAG = auto()
    RATE_UNLIKE_HEADER = auto()
    TIMES_ROUNDED = auto()
    TIMES_LATE = auto()
    CAPTURE_RATE_SLOWED = auto()
    # seeing
    LIGHT_CHANGED = auto()
    LIGHT_FLICKERS = auto()
    LIGHT_PULSED = auto()
    LIGHT_DRIFTS = auto()
    PICTURE_NOISY = auto()
    CONTRAST_LOW = auto()
    MOTION_BLURRED = auto()
    CAMERA_SHAKES = auto()
    BACKGROUND_MOVES = auto()
    READOUT_KEEPS_PACE = auto()
    READOUT_ALONG_FALL = auto()
    SPECKS_IN_VIEW = auto()
    LARGE_IN_VIEW = auto()
    COUNT_IN_DOUBT = auto()
    NO_BACKGROUND = auto()
    BLIND = auto()
    NOTHING_SEEN = auto()
    # motion
    TOO_FEW_SIGHTINGS = auto()
    SPEED_AMBIGUOUS = auto()
    SPEED_UNLIKE_SETTING = auto()
    LINE_NEAR_EDGE = auto()
    PARTS_BESIDE_VIEW = auto()
    PASSAGES_UNSURE = auto()
    PARTS_MERGED = auto()
    PIECES_OR_PAIRS = auto()
    PART_DIFFERS = auto()
    PATHS_UNLIKELY = auto()
    SIGHTINGS_LEFT_OVER = auto()
    PARTS_IN_LAST_FRAME = auto()
    PARTS_IN_FIRST_FRAME = auto()
    PART_AT_REST = auto()
    PART_STUCK = auto()
    # the run
    DETECTOR_FAILED = auto()
    # what was taken for granted (the tally's `assumed`)
    LINE_ASSUMED = auto()
    FALLS_ASSUMED = auto()
    MOTION_ASSUMED = auto()
    CLOCK_ASSUMED = auto()
    READOUT_ASSUMED = auto()
    SPEED_LEARNED = auto()
    ACCELERATION_LEARNED = auto()
    SETTING_FROM_COMMAND_LINE = auto()
    # the live run
    CAMERA_SILENT = auto()
    CAMERA_LOST = auto()
    CAMERA_HANGS = auto()
    CAMERA_SLOWED = auto()
    CAMERA_GONE = auto()
    CAMERA_OTHERWISE = auto()
    CAMERA_EXPOSES_ITSELF = auto()
    FRAMES_DROPPED = auto()
    RECORDING_BEHIND = auto()
    RECORDING_FAILED = auto()
    # teaching
    SINGLES_LIKE_PAIRS = auto()
    # scale and line time
    SCALES_DISAGREE = auto()
    ACCELERATION_UNKNOWN = auto()
    ACCELERATION_VARIES = auto()
    PATTERN_STANDS = auto()
    SCALE_VARIES = auto()
    READOUT_UNKNOWN = auto()
    PART_SIZE_UNCLEAR = auto()
    NO_TICKS = auto()
    LINE_TIMES_DISAGREE = auto()
    LINE_TIME_UNKNOWN = auto()
    LINE_TIME_BY_DRIVER = auto()
    # the beam
    BEAM_TIMES_COARSE = auto()
    BEAM_LINE_CUT = auto()
    BEAM_END_UNKNOWN = auto()
    BEAM_EDGES_LOST = auto()
    BEAM_RESTARTED = auto()
    BEAM_BLOCKED_AT_ENDS = auto()
    BEAM_CHATTERS = auto()
    BEAM_STUCK_OPEN = auto()
    BEAM_STUCK_BLOCKED = auto()
    BEAM_SENSOR_SLOW = auto()
    BEAM_PATTERN_AMBIGUOUS = auto()
    BEAM_PULSES_MERGED = auto()
    BEAM_COUNT_UNSURE = auto()
    # the board
    BOARD_SILENT = auto()
    BOARD_RESTARTED = auto()
    BOARD_LINES_LOST = auto()
    BOARD_CONTRADICTS = auto()
    BOARD_OTHER_VERSION = auto()
    BOARD_REFUSED = auto()
    BOARD_UNANSWERED = auto()
    BOARD_FAULT = auto()
    # the two counters
    CLOCKS_UNFITTED = auto()
    CLOCKS_AMBIGUOUS = auto()
    PAIRINGS_UNSURE = auto()
    COUNTERS_DIFFER = auto()
    BEAM_ALONE = auto()
    CAMERA_ALONE = auto()
    BEAM_TOTAL_DIFFERS = auto()
    PULSES_OF_SEVERAL = auto()
    SEEN_BY_ONE = auto()
    BEAM_MISSED = auto()
    CAMERA_MISSED = auto()
    COUNTERS_DISAGREE_IN_TIME = auto()
    NEITHER_WATCHED = auto()
    PULSES_OUTSIDE = auto()
    BEAM_ASKEW = auto()
    LAMP_NOT_SEEN = auto()
    LAMP_DISAGREES = auto()
    BEAM_HEIGHT_UNKNOWN = auto()
    BEAM_HEIGHT_ASSUMED = auto()
    BEAM_WIDTH_ASSUMED = auto()
    BEAM_THRESHOLD_ASSUMED = auto()
    BEAM_LEAST_ASSUMED = auto()
    BEAM_PART_LEARNED = auto()
    # the plan of a cut
    CUT_COUNT_DOUBTFUL = auto()
    CUT_PARTS_DOUBTED = auto()
    CUT_EDGE_HIDDEN = auto()
    CUT_TOO_FEW = auto()
    # the bag
    BAG_PARTS_UNSURE = auto()
    BAG_PINCHED = auto()
    BAG_COUNT_DOUBTFUL = auto()
    BAG_HELD_UNKNOWN = auto()
    BAG_NOT_SHUT = auto()
    BAG_FEW_STROKES = auto()
    GATE_NEVER_OPENED = auto()
    GATE_LOG_OUTSIDE = auto()
    GATE_LOG_UNTIMED = auto()

    @property
    def code(self) -> str:
        """The word that other programs read."""
        return self.value

    @property
    def meaning(self) -> str:
        """What it means, in a sentence without figures."""
        return _TEXTS[self.value][0]

    @property
    def remedy(self) -> str:
        """What to do about it."""
        return _TEXTS[self.value][1]
