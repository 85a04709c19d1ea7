"""Where an outlet's line and boxes lie in a picture of a given size."""

from viscount.errors import OutletError
from viscount.outlet.settings import Box, Outlet


def region_in_picture(outlet: Outlet, height: int, width: int) -> Box:
    """Return the region that is looked at, (x0, y0, x1, y1) half-open; default: all of it.

    `pixels[y0:y1, x0:x1]` of a (height, width) picture is the region.

    Raises
    ------
    OutletError
        where the region sticks out of the picture.
    """
    box = outlet.view.region_px
    return (0, 0, width, height) if box is None else _inside("region_px", box, height, width)


def lamp_in_picture(outlet: Outlet, height: int, width: int) -> Box | None:
    """Return the lamp's box as `region_in_picture` does, or None where no lamp is given."""
    box = outlet.view.lamp_px
    return None if box is None else _inside("lamp_px", box, height, width)


def line_in_picture(outlet: Outlet, height: int, width: int) -> float:
    """Return the image coordinate of the counting line along the fall, in px.

    y where parts fall down or up, x where they go left or right, in the whole picture.
    Default: the middle of the region, which is (height - 1) / 2 for parts that fall down
    through a picture without a region, because (0, 0) is the centre of the first pixel.

    Raises
    ------
    OutletError
        where the line lies outside the region, or the region outside the picture.
    """
    x0, y0, x1, y1 = region_in_picture(outlet, height, width)
    first, last = (y0, y1 - 1) if outlet.falls.vertical else (x0, x1 - 1)
    line = outlet.view.line_px
    if line is None:
        return (first + last) / 2
    if not first <= line <= last:
        outside = "picture" if outlet.view.region_px is None else "region"
        raise OutletError(
            f"line outside the {outside}: {line:g}",
            where="view.line_px",
            allowed=f"{first} to {last}",
            remedy="the line is y where parts fall down or up, x where they go left or right",
        )
    return line


def _inside(key: str, box: Box, height: int, width: int) -> Box:
    _, _, x1, y1 = box
    if x1 > width or y1 > height:
        raise OutletError(
            f"{list(box)} sticks out of the picture",
            where=f"view.{key}",
            allowed=f"x from 0 to {width}, y from 0 to {height}",
            remedy="the picture may have been scaled or rotated since the box was drawn",
        )
    return box
