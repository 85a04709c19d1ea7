"""What there is to say of a recording and of counting with the camera.

For each code what it means, in a sentence without figures, and what to do about it.
"""

from typing import Final

TEXTS: Final[dict[str, tuple[str, str]]] = {
    # the recording
    "recording_incomplete": (
        "the recording ends before its stated end, or the decoder met damaged data",
        "copy the file again, or record the pour again",
    ),
    "frames_lost": (
        "frames are missing, for so long that a part could have passed unseen",
        "record to a faster disk or at a lower resolution",
    ),
    "frames_damaged": (
        "the decoder reported damaged frames",
        "copy the file again, or record the pour again",
    ),
    "frames_repeated": (
        "some frames show the picture of the frame before them",
        "lower the camera's frame rate until each picture is new",
    ),
    "frames_torn": (
        "some frames show one picture in one half and the picture before it in the other",
        "lower the camera's frame rate, or have the recorder wait for whole pictures",
    ),
    "frames_untimed": (
        "some frames carry no usable time; it was estimated from their neighbours",
        "record in a format that stores a rising time for every frame, such as MP4",
    ),
    "grey_depth_assumed": (
        "pictures stored with 16 bits use fewer; the depth was taken from the first of them",
        "save the pictures with 8 bits, or stretched to the full 16",
    ),
    "clock_varies": (
        "the frame times lie on no straight line; they are used as they stand",
        "switch the camera's variable or automatic frame rate off",
    ),
    "capture_rate_tag": (
        "the file carries a capture-rate tag",
        "set camera.capture_fps in the outlet file if the tag is right",
    ),
    "rate_unlike_header": (
        "the header states another frame rate than the times of the frames come to",
        "nothing; the times of the frames are used, never the header's rate",
    ),
    "times_rounded": (
        "the file's times are rounded; the frame clock was fitted through them",
        "nothing; MP4 with a fine time base would keep them exactly",
    ),
    "times_late": (
        "the frame times were taken when frames arrived, some later than others; the frame clock "
        "was fitted through them",
        "store the times that the camera or its driver gives, not those of arrival",
    ),
    "capture_rate_slowed": (
        "the fall shows that the file's clock is not real time; times are refused",
        "set camera.capture_fps in the outlet file to the rate of capture",
    ),
    # seeing
    "light_changed": (
        "the light changed at once over the whole picture; the background was learned anew",
        "run the light from a steady direct-current supply and shade the view",
    ),
    "light_flickers": (
        "the light flickers as lamps on the mains do",
        "run the light from a steady direct-current supply",
    ),
    "light_pulsed": (
        "the light is switched on and off many times a second",
        "dim the lamp by its current, not by switching; shade the view from other lamps",
    ),
    "light_drifts": (
        "the light grows or fades through the clip",
        "fix the camera's exposure and gain, and let the lamp warm up before the pour",
    ),
    "picture_noisy": (
        "the noise of the picture would hide a faint part",
        "bring more light, and lower the camera's gain",
    ),
    "contrast_low": (
        "parts hardly differ from the background",
        "light the background from behind, or choose one that differs more from the parts",
    ),
    "motion_blurred": (
        "parts move too far while a frame is exposed",
        "shorten the exposure, and bring more light to make up for it",
    ),
    "camera_shakes": (
        "the whole picture shakes",
        "mount the camera apart from the feeder and the gate",
    ),
    "background_moves": (
        "the background moves through the view",
        "put a still, even background behind the parts",
    ),
    "readout_keeps_pace": (
        "parts nearly keep pace with the rolling shutter's readout",
        "turn the camera by a quarter, so that the readout runs across the fall",
    ),
    "readout_along_fall": (
        "the rolling shutter is read along the fall, which shifts times and lengths",
        "turn the camera by a quarter, so that the readout runs across the fall",
    ),
    "specks_in_view": (
        "specks much smaller than parts move through the view",
        "clean the lens and the air between; keep dust and chips away from the outlet",
    ),
    "large_in_view": (
        "something several times as large as a part reached into the view",
        "keep hands, tools and cables out of the view while parts fall",
    ),
    "count_in_doubt": (
        "counting this recording ends in a doubt of its own",
        "run `viscount count` for its reasons, and look at the line strip",
    ),
    "no_background": (
        "no empty background could be learned: too little of the clip shows one",
        "start the recording before the pour",
    ),
    "blind": (
        "for some time a part could have passed unseen",
        "see the list of blind times; recount those places on the line strip",
    ),
    "nothing_seen": (
        "nothing moved through the view",
        "check the view, the light and the direction of the fall",
    ),
    # motion
    "too_few_sightings": (
        "parts cross the view in less time than two frames take",
        "raise the frame rate, or show more of the fall",
    ),
    "speed_ambiguous": (
        "several speeds explain the stream equally well",
        "give motion.speed_mm_s and view.scale_px_per_mm, or record the stream's start",
    ),
    "speed_unlike_setting": (
        "parts do not move at the speed that the outlet file states",
        "check motion, view.scale_px_per_mm and camera.capture_fps in the outlet file",
    ),
    "line_near_edge": (
        "parts are too rarely seen whole on both sides of the line",
        "move the line towards the middle of the view, or raise the frame rate",
    ),
    "parts_beside_view": (
        "parts show only an edge at the side of the view: others may pass beside it",
        "move the camera back or aside until the whole stream is in view",
    ),
    "passages_unsure": (
        "some passages could be more or fewer parts than counted",
        "recount the marked places on the line strip",
    ),
    "parts_merged": (
        "some regions look like several parts at once",
        "let parts pass one deep; give or teach the part's size",
    ),
    "pieces_or_pairs": (
        "regions move together as if one part were seen in pieces, or pairs as two",
        "give or teach the part's size along the fall",
    ),
    "part_differs": (
        "the parts look unlike the part that was taught or stated",
        "check that the right part is in the magazine; if it is, teach it as it leaves the outlet",
    ),
    "paths_unlikely": (
        "the paths that explain the parts best are still unlikely ones",
        "recount on the line strip; raise the frame rate, or show more of the fall",
    ),
    "sightings_left_over": (
        "regions as large as parts were seen that fit no part's path",
        "recount on the line strip; raise the frame rate, or keep other things out of the view",
    ),
    "parts_in_last_frame": (
        "the clip ends while parts are still above the line",
        "record until the pour has ended",
    ),
    "parts_in_first_frame": (
        "parts were already moving through the view when the clip began",
        "start the recording before the pour",
    ),
    "part_at_rest": (
        "something lies still in the view and is not counted",
        "clear the view",
    ),
    "part_stuck": (
        "a part stopped on its way and went on later",
        "look at that place for what holds parts up: a burr, dirt, a narrow spot",
    ),
    # the run
    "detector_failed": (
        "the detector broke in the middle of the run",
        "report the error to the plugin's owner; use the built-in detector",
    ),
    # teaching
    "singles_like_pairs": (
        "single parts spread so widely by one measure that it cannot tell one from two",
        "nothing, while another measure tells; else let parts fall one way round, and teach again",
    ),
    # what was taken for granted (the tally's `assumed`)
    "line_assumed": (
        "no counting line was given; the middle of the view is used",
        "set view.line_px in the outlet file",
    ),
    "falls_assumed": (
        "no direction of the fall was given; down is used",
        "set view.falls in the outlet file",
    ),
    "motion_assumed": (
        "no kind of motion was given; speed and acceleration are learned from the clip",
        "set motion.kind in the outlet file",
    ),
    "clock_assumed": (
        "the file's own clock is taken for real time",
        "set camera.capture_fps in the outlet file where the clip is slow motion",
    ),
    "readout_assumed": (
        "no readout was given; each picture is taken as exposed at one moment. With a rolling "
        "shutter times are off by up to the whole readout, 10 to 30 ms in cheap cameras",
        "set camera.readout and camera.line_time_us in the outlet file",
    ),
    "speed_learned": (
        "the speed at the line was learned from the clip",
        "set motion in the outlet file",
    ),
    "acceleration_learned": (
        "the acceleration was learned from the clip",
        "set motion.acceleration_mm_s2 and view.scale_px_per_mm in the outlet file",
    ),
    "setting_from_command_line": (
        "a setting was given on the command line and stands over the outlet file",
        "write it into the outlet file to keep it",
    ),
}
