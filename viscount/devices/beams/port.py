"""A serial port, opened so that nothing moves, and found again after its plug was pulled."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from viscount.errors import SourceError, UsageError

DEFAULT_SPEED = 115_200
_USB = "usb:"


class Port(Protocol):
    """What the beam line needs of a port."""

    def read(self, wait_s: float) -> bytes:
        """Return what has come; wait for it at most so long. OSError where the port is gone."""
        ...

    def write(self, data: bytes) -> None:
        """Write bytes. OSError where the port is gone."""
        ...

    @property
    def waiting(self) -> int:
        """How many bytes have come and were not read yet."""
        ...

    def close(self) -> None:
        """Let go of the port; harmless when repeated."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class UsbIdentity:
    """What a USB port is known by, whatever name the system gives it."""

    vendor: int
    product: int
    serial: str | None = None

    def __str__(self) -> str:
        tail = "" if self.serial is None else f":{self.serial}"
        return f"{_USB}{self.vendor:04x}:{self.product:04x}{tail}"

    def fits(self, found: Any) -> bool:
        """Whether a port that pyserial lists is this one."""
        same = (found.vid, found.pid) == (self.vendor, self.product)
        return same and self.serial in (None, found.serial_number)


def identity_in(text: str) -> UsbIdentity | None:
    """Return the identity that ``usb:VENDOR:PRODUCT[:SERIAL]`` names; None for a port's own name.

    Raises
    ------
    UsageError : it begins like one and is none.
    """
    if not text.startswith(_USB):
        return None
    fields = text.removeprefix(_USB).split(":", 2)
    try:
        vendor, product = (int(field, 16) for field in fields[:2])
    except ValueError:
        raise UsageError(
            f"a port named {text!r}",
            allowed="a port such as /dev/ttyACM0 or COM3, or usb:VENDOR:PRODUCT[:SERIAL] with "
            "hexadecimal numbers, such as usb:2e8a:000a",
        ) from None
    return UsbIdentity(
        vendor=vendor, product=product, serial=fields[2] if len(fields) > 2 else None
    )


class SerialPorts:
    """Opens one serial port, again and again.

    Parameters
    ----------
    name : the port's name, or ``usb:VENDOR:PRODUCT[:SERIAL]``.
    speed : bits a second of a two-wire line; a USB port does not mind.

    Raises
    ------
    UsageError : `name` is malformed, or pyserial is not installed.
    """

    def __init__(self, name: str, speed: int = DEFAULT_SPEED) -> None:
        self._name = name
        self._speed = speed
        self._identity = identity_in(name)
        self._serial = _pyserial()

    @property
    def where(self) -> str:
        """The port, as messages name it."""
        return self._name

    def connect(self) -> Port:
        """Open the port; once it was open, the same USB device under whatever name it has now.

        Raises
        ------
        SourceError : it is not there, or somebody else has it.
        """
        name = self._current()
        try:
            port = _SerialPort(self._serial, name, self._speed)
        except (OSError, ValueError) as error:
            raise SourceError(
                f"the port cannot be opened ({error})",
                where=self._name,
                allowed=", ".join(self._listed()) or "no serial port is there",
                remedy="check the cable, your right to use the port, and that no other program "
                "has it open",
            ) from error
        self._identity = self._identity or self._identity_of(name)
        return port

    def _current(self) -> str:
        found = [] if self._identity is None else [p for p in self._ports() if self._fits(p)]
        if len(found) == 1:
            return str(found[0].device)
        if self._name.startswith(_USB):
            what = "no serial port" if not found else f"{len(found)} serial ports"
            raise SourceError(
                f"{what} with this identity",
                where=self._name,
                allowed=", ".join(self._listed()) or "no serial port is there",
                remedy="plug it in, or add its serial number",
            )
        return self._name

    def _fits(self, found: Any) -> bool:
        return self._identity is not None and self._identity.fits(found)

    def _identity_of(self, name: str) -> UsbIdentity | None:
        for one in self._ports():
            if one.device == name and one.vid is not None:
                return UsbIdentity(vendor=one.vid, product=one.pid, serial=one.serial_number)
        return None

    def _listed(self) -> Iterator[str]:
        for one in self._ports():
            usb = "" if one.vid is None else f" (usb:{one.vid:04x}:{one.pid:04x})"
            yield f"{one.device}{usb}"

    def _ports(self) -> Sequence[Any]:
        from serial.tools.list_ports import comports

        return list(comports())


class _SerialPort:
    """A port of pyserial, exclusive, with DTR and RTS left alone as far as the system allows.

    Many boards reset when these lines change. They are asked for low before the port is opened;
    Linux raises them for a moment all the same. What keeps the gate still is the protocol: after
    a reset nothing moves before a greeting, a renewal, a readiness and an opening.
    """

    def __init__(self, serial: Any, name: str, speed: int) -> None:
        made = serial.Serial()
        made.port, made.baudrate = name, speed
        made.timeout, made.write_timeout = 0, 1.0
        made.dtr = made.rts = False
        made.exclusive = True
        connect = made.open
        try:
            connect()
        except serial.SerialException as error:
            raise OSError(str(error)) from error
        _keep_lines(made)
        self._port, self._error = made, serial.SerialException

    def read(self, wait_s: float) -> bytes:
        try:
            self._port.timeout = wait_s
            # One byte is waited for, the rest of what has come is taken along.
            first: bytes = self._port.read(1)
            return first + self._port.read(self._port.in_waiting) if first else b""
        except (self._error, TypeError) as error:
            raise OSError(str(error)) from error

    def write(self, data: bytes) -> None:
        try:
            self._port.write(data)
        except self._error as error:
            raise OSError(str(error)) from error

    @property
    def waiting(self) -> int:
        try:
            return int(self._port.in_waiting)
        except (self._error, OSError, TypeError):
            return 0

    def close(self) -> None:
        self._port.close()


def _keep_lines(port: Any) -> None:
    """Have the lines keep their level when the port is closed, so that closing resets nothing."""
    try:
        import termios
    except ImportError:
        return
    try:
        settings = termios.tcgetattr(port.fileno())
        settings[2] &= ~termios.HUPCL
        termios.tcsetattr(port.fileno(), termios.TCSANOW, settings)
    except (termios.error, OSError):
        return


def _pyserial() -> Any:
    try:
        import serial
    except ImportError:
        raise UsageError(
            "serial ports need pyserial, which is not installed",
            remedy="install viscount with its extra `serial`",
        ) from None
    return serial
