"""What a simulated board is made of."""

from dataclasses import dataclass

from viscount.devices.protocol.fields import Has

Range = tuple[float, float]
"""The least and the greatest of values that are spread evenly between them."""

EVERYTHING = Has(beam=True, gate=True, lamp=True, shut=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardSettings:
    """A board, its gate, and how both behave.

    Attributes
    ----------
    name, firmware, has, tick_ns : as its hello says.
    boot : of its first run, 1 to 65535.
    clock_us : what its clock shows at power-on; after a reset it begins at 0.
    drift_ppm : how much its clock runs fast.
    starts_ms : how long it is deaf and blind after a reset.
    resets_on_open : opening its port resets it.
    on_ms, duty_percent : its own limits on the coil.
    blade_ms : how late the blade may be until the board calls it jammed.
    queue : edges that it keeps until they are sent; the oldest give way.
    outbox : other lines that it keeps until they are sent; the oldest give way.
    opens_ms : from the coil's switching on until the blade leaves its shut place.
    reach_ms : from its switching off until the blade enters the stream.
    shut_ms : from its switching off until the stream is closed.
    blocked : the beam's level at power-on.
    switch : a press switch is fitted.
    """

    name: str = "simulated"
    firmware: str = "1.0"
    has: Has = EVERYTHING
    tick_ns: int = 1000
    boot: int = 1
    clock_us: int = 0
    drift_ppm: float = 0.0
    starts_ms: int = 0
    resets_on_open: bool = False
    on_ms: int = 10_000
    duty_percent: int = 80
    blade_ms: int = 60
    queue: int = 64
    outbox: int = 32
    opens_ms: Range = (6.0, 10.0)
    reach_ms: Range = (8.0, 14.0)
    shut_ms: Range = (12.0, 18.0)
    blocked: bool = False
    switch: bool = True
