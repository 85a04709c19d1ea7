"""The one control of a camera under Linux that OpenCV does not reach: its dynamic frame rate.

With it on, a camera in automatic exposure lowers its frame rate in poor light without a word.
Numbers from the kernel's include/uapi/linux/videodev2.h and v4l2-controls.h.
"""

import contextlib
import os
import struct
import sys

_SET_CONTROL = 0xC008561C  # VIDIOC_S_CTRL, _IOWR('V', 28, struct v4l2_control)
_EXPOSURE_AUTO_PRIORITY = 0x009A0903  # V4L2_CID_EXPOSURE_AUTO_PRIORITY


def switch_dynamic_rate_off(device: str) -> bool:
    """Return whether the camera at this device file now keeps its frame rate.

    False where it has no such control, or where this is no Linux.
    """
    if sys.platform != "linux":
        return False
    import fcntl

    with contextlib.suppress(OSError):
        handle = os.open(device, os.O_RDWR | os.O_NONBLOCK | os.O_CLOEXEC)
        try:
            fcntl.ioctl(handle, _SET_CONTROL, struct.pack("=Ii", _EXPOSURE_AUTO_PRIORITY, 0))
            return True
        finally:
            os.close(handle)
    return False
