"""What there is to say of a live run: its camera, its recording, its pace.

For each code what it means, in a sentence without figures, and what to do about it.
"""

from typing import Final

TEXTS: Final[dict[str, tuple[str, str]]] = {
    "camera_silent": (
        "the camera sent no picture for a while; it was opened again",
        "check its cable, its supply and the network; a part that passed meanwhile is not counted",
    ),
    "camera_lost": (
        "the camera vanished; it was opened again as soon as it was back",
        "check its cable, its supply and the network; a part that passed meanwhile is not counted",
    ),
    "camera_hangs": (
        "the camera sent the same picture over and over; it was opened again",
        "check the camera's own program; a part that passed meanwhile is not counted",
    ),
    "camera_slowed": (
        "the camera sent fewer pictures than it did; it was opened again",
        "give it more light, and switch its dynamic frame rate off",
    ),
    "camera_gone": (
        "the camera was gone as the run ended; what passed since its last picture is not known",
        "check its cable, its supply and the network, then pour again",
    ),
    "camera_otherwise": (
        "the camera does not do what it was asked for; what it does was measured",
        "ask for what the camera offers, or take what it gives",
    ),
    "camera_exposes_itself": (
        "the camera's exposure could not be held",
        "set it by hand with the camera's own program",
    ),
    "frames_dropped": (
        "frames came faster than they could be counted; what was left out is blind time",
        "lower the frame rate or the size of the picture, or free the computer of other work",
    ),
    "recording_behind": (
        "the recording could not keep up, and lacks frames that were counted",
        "record to a faster disk; the count itself is not touched",
    ),
    "recording_failed": (
        "the recording broke off; the count went on without it",
        "check the disk; what was written until then can be read",
    ),
}
