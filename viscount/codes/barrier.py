"""What there is to say of the beam, of its board, and of both counters together.

For each code what it means, in a sentence without figures, and what to do about it.
"""

from typing import Final

TEXTS: Final[dict[str, tuple[str, str]]] = {
    # the beam
    "beam_times_coarse": (
        "the beam log's times have fewer than six decimals",
        "have the logger write seconds with at least six decimals",
    ),
    "beam_line_cut": (
        "the last line of the beam log breaks off and was left out",
        "end the logging before the power is cut",
    ),
    "beam_end_unknown": (
        "the beam log does not say up to when it is whole; after its last edge the beam is blind",
        "have the logger write `# end TIME` as it stops, on the board's own clock",
    ),
    "beam_edges_lost": (
        "edges of the beam were lost on their way from the board",
        "read the board more often, or give it a longer queue",
    ),
    "beam_restarted": (
        "the beam's board restarted; what passed meanwhile is not known",
        "check the board's supply, then pour again",
    ),
    "beam_blocked_at_ends": (
        "the beam is blocked as its log begins or ends",
        "clear the beam, and log from before the pour until after it",
    ),
    "beam_chatters": (
        "the beam's edges chatter",
        "check sensor and wiring; set beam.min_pulse_us longer than the chatter, not than a part",
    ),
    "beam_stuck_open": (
        "the beam does not change while the camera counts",
        "check that parts fall through the beam, and its sensor, wiring and threshold",
    ),
    "beam_stuck_blocked": (
        "the beam stays blocked while the camera counts",
        "clear and clean the beam; check that emitter and sensor face each other",
    ),
    "beam_sensor_slow": (
        "the beam's sensor or board stretches short interruptions to one least width",
        "switch its one-shot or pulse stretching off, or use a faster sensor",
    ),
    "beam_pattern_ambiguous": (
        "the beam's pattern fits several numbers of parts",
        "teach the part, or give its sizes",
    ),
    "beam_pulses_merged": (
        "some interruptions of the beam are as long as several parts",
        "let parts pass one by one; compare with the camera",
    ),
    "beam_count_unsure": (
        "some interruptions of the beam could be more or fewer parts than counted",
        "compare with the camera at these places; teach the part",
    ),
    # the board
    "board_silent": (
        "the board says nothing, or nothing that can be read",
        "check its cable, port and supply, and that its speed is the one set",
    ),
    "board_restarted": (
        "the board restarted; what passed meanwhile is not known",
        "check its supply and cable, then pour again",
    ),
    "board_lines_lost": (
        "lines of the board came damaged or not at all; its totals make up for them",
        "use a shorter or shielded cable, away from the solenoid's",
    ),
    "board_contradicts": (
        "the board's lines break the rules of the protocol",
        "check its firmware with `viscount.testing.board.check_board`",
    ),
    "board_other_version": (
        "the board speaks another version of the protocol",
        "bring the board's firmware and this program to the same version",
    ),
    "board_refused": (
        "the board refused a line",
        "see the reason that it gives",
    ),
    "board_unanswered": (
        "the board did not answer a line",
        "check its cable and supply; ask for its state",
    ),
    "board_fault": (
        "the gate's board met a fault and switched the coil off",
        "see the reason that it gives; clear the gate, then have it shut once",
    ),
    # the two counters
    "clocks_unfitted": (
        "no offset of the clocks brings pulses and passages together",
        "check that beam log and recording are of the same pour; let both begin before it",
    ),
    "clocks_ambiguous": (
        "several offsets of the clocks bring pulses and passages together alike",
        "begin recording and log before the pour and end them after it; or show the board's lamp",
    ),
    "pairings_unsure": (
        "at some places camera and beam together could be more or fewer parts than counted",
        "recount the marked places on the line strip",
    ),
    "counters_differ": (
        "one counter missed many parts, and nothing explains it",
        "check the beam's height and sensor, and the camera's view; count this pour by hand",
    ),
    "beam_alone": (
        "the camera cannot count this pour; the count is the beam's alone",
        "mend what the camera's reasons name",
    ),
    "camera_alone": (
        "the beam cannot count this pour; the count is the camera's alone",
        "mend what the beam's reasons name",
    ),
    "beam_total_differs": (
        "the beam's total is not what the camera counted",
        "count this pour by hand; record the beam's edges to see where they differ",
    ),
    "pulses_of_several": (
        "some pulses of the beam stand for several parts",
        "let parts pass one by one, or put the beam lower; the camera counts them all the same",
    ),
    "seen_by_one": (
        "some parts passed while only one counter was watching",
        "nothing, while these times are few and short",
    ),
    "beam_missed": (
        "the beam missed parts that the camera saw",
        "check the beam's width, height and threshold",
    ),
    "camera_missed": (
        "the camera missed parts that the beam saw",
        "look at these places on the line strip",
    ),
    "counters_disagree_in_time": (
        "pulses and passages are farther apart in time than the fall allows",
        "check that the beam log is of this pour, and the beam's height in the outlet file",
    ),
    "neither_watched": (
        "for some time neither camera nor beam was watching",
        "let the log begin before the recording and end after it, with `# end TIME`",
    ),
    "pulses_outside": (
        "pours of the beam log lie outside the recording and are left out",
        "nothing, if the recording was meant to show the other pours only",
    ),
    "beam_askew": (
        "pulses come later the farther to one side parts pass; the pour itself told by how much",
        "level the beam with the counting line; state camera.line_time_us and camera.readout",
    ),
    "lamp_not_seen": (
        "the lamp in view never went on or off",
        "check view.lamp_px, and that the beam's board switches the lamp",
    ),
    "lamp_disagrees": (
        "the lamp in view does not go with the beam's edges",
        "check view.lamp_px, and that the beam log is of this pour",
    ),
    # what was taken for granted of the beam (the tally's `assumed`)
    "beam_height_unknown": (
        "the beam's height is not known; passages are compared with pulses by their rhythm",
        "set beam.at_px, or beam.below_lip_mm with view.lip_px and view.scale_px_per_mm",
    ),
    "beam_height_assumed": (
        "the stated height of the beam is taken to be right to this standard uncertainty",
        "measure it to less than that; px change when the camera is nudged",
    ),
    "beam_width_assumed": (
        "the beam's width is not known; it is taken for a thin one",
        "set beam.width_mm in the outlet file",
    ),
    "beam_threshold_assumed": (
        "the beam is taken to switch when it has lost this share of its light",
        "set the sensor's threshold to half",
    ),
    "beam_least_assumed": (
        "interruptions shorter than this are taken for spikes",
        "set beam.min_pulse_us in the outlet file",
    ),
    "beam_part_learned": (
        "how one part darkens the beam was learned from the parts of this run",
        "give the part's sizes, or teach the part",
    ),
}
