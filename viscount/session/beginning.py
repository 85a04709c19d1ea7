"""What is told as counting begins: where line, beam and blade are in the picture."""

from viscount.measure.heights import Place, height_below_line
from viscount.outlet import Outlet
from viscount.session.live_count import LiveCount
from viscount.session.messages import Began
from viscount.tally import SetUp


def began_with(camera: str, outlet: Outlet, count: LiveCount) -> Began:
    """Return what observers are told of a live count that has begun."""
    run = count.run
    return Began(
        camera=camera,
        shape=run.geometry.picture,
        line_px=run.geometry.line_px,
        falls=run.geometry.falls,
        beam_px=place_px("beam", outlet, run.set_up),
        blade_px=place_px("gate", outlet, run.set_up),
        origin_ns=count.origin_ns,
    )


def place_px(place: Place, outlet: Outlet, set_up: SetUp) -> float | None:
    """Return where beam or blade are along the fall, an image coordinate; None where unknown."""
    height = height_below_line(place, outlet, set_up)
    if height is None:
        return None
    scale = set_up.scale_px_per_mm if height.unit == "mm" else 1.0
    return set_up.line_px + set_up.falls.sign * height.below_line * (scale or 1.0)
