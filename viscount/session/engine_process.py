"""The engine's process: made by spawning, told to stop through a pipe, ends with the run."""

import contextlib
import logging
import signal
import sys
import threading
from collections.abc import Sequence
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING

from viscount.errors import ViscountError
from viscount.session.engine_log import LogPlan, begin_log, end_log
from viscount.session.feed import Feed
from viscount.session.messages import Began, Ended, Failed, Value
from viscount.session.picture_board import PictureBoard
from viscount.session.plan import LivePlan
from viscount.session.sweeper import Sweeper

if TYPE_CHECKING:
    # Heavy: whoever only starts the process needs none of it.
    from viscount.seams import Camera
    from viscount.session.engine import Engine, Tell

_log = logging.getLogger("viscount.session")

STOP = "stop"
FEED_WAIT_S = 0.5
_SWITCH_S = 0.001
"""A thread that computes gives way to the others this often: reading must not wait for it."""


def engine_main(
    plan: LivePlan,
    control: Connection,
    pipes: Sequence[Connection],
    board: str | None,
    log: LogPlan,
) -> None:
    """Run the engine; called in its own process.

    Parameters
    ----------
    control : brings `STOP` and what a person says of bags, and takes the run's end. Where its
        other end goes, the run ends too.
    pipes : to the observers.
    board : name of the picture board, or None.
    log : where to log.
    """
    begin_log(log)
    sys.setswitchinterval(_SWITCH_S)
    # What a plugin prints must not stand in the command's answer.
    sys.stdout = sys.stderr
    # Ctrl-C reaches every process of the terminal; whoever started the run says when it ends.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Without it an observer that comes late, or was held up, could show nothing.
    feeds = [Feed(pipe, keeps=(Began,)) for pipe in pipes]
    pictures = None if board is None else PictureBoard(board)

    def tell(value: Value) -> None:
        for feed in feeds:
            feed.put(value)

    end: Ended | Failed
    try:
        sweeper = Sweeper()
        engine = _engine(plan, tell, pictures, sweeper)
        signal.signal(signal.SIGTERM, lambda number, frame: engine.stop())
        listener = threading.Thread(target=_listen, args=(control, engine), daemon=True)
        listener.start()
        with sweeper:
            end = engine.run()
    except ViscountError as error:
        _log.debug("the run failed as follows", exc_info=error)
        end = Failed(error=error)
    except Exception as error:
        # The process ends with it, and whoever started the run says so.
        _log.critical("the engine broke as follows", exc_info=error)
        raise
    with contextlib.suppress(OSError):
        control.send(end)
    tell(end)
    for feed in feeds:
        feed.close(FEED_WAIT_S)
    if pictures is not None:
        pictures.close()
    end_log()


def _engine(
    plan: LivePlan, tell: "Tell", pictures: PictureBoard | None, sweeper: Sweeper
) -> "Engine":
    from viscount.clock import SystemClock
    from viscount.devices.beams.port import SerialPorts
    from viscount.devices.cameras.naming import camera_named
    from viscount.hooks.loading import load_plugins
    from viscount.seams import Aim
    from viscount.session.engine import Engine
    from viscount.session.packing import packer_for

    registry = load_plugins()
    name, address = camera_named(plan.source, registry.cameras)
    aim = Aim(address=address, capture_fps=plan.outlet.camera.capture_fps)

    def camera() -> "Camera":
        return registry.make_camera(name, plan.options, aim)

    clock = SystemClock()
    packer = None if plan.pack is None else packer_for(plan, registry, clock, tell)
    ports = None if plan.beam_port is None else SerialPorts(plan.beam_port, plan.beam_speed)
    return Engine(
        plan,
        registry,
        clock,
        camera=camera,
        name=name,
        tell=tell,
        show=pictures,
        ports=ports,
        packer=packer,
        sweeper=sweeper,
    )


def _listen(control: Connection, engine: "Engine") -> None:
    """Stop the engine when told to, or when whoever started it is gone."""
    with contextlib.suppress(EOFError, OSError):
        while (said := control.recv()) != STOP:
            engine.press(said)
    engine.stop()
