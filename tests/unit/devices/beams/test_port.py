"""A serial port: how it is named, opened and found again. Where pyserial is missing, a stand-in."""

import os
import sys
import types
from dataclasses import dataclass, field
from importlib.util import find_spec
from typing import Any

import pytest
from pty_boards import PtyBoard

from viscount.clock import SystemClock
from viscount.devices.beams.port import SerialPorts, UsbIdentity, identity_in
from viscount.errors import SourceError, UsageError
from viscount.session.beam_line import BeamLine


@pytest.mark.parametrize(
    ("text", "identity"),
    [
        ("/dev/ttyACM0", None),
        ("COM3", None),
        ("usb:2e8a:000a", UsbIdentity(vendor=0x2E8A, product=0x000A)),
        ("usb:2e8a:a:E66 1:2", UsbIdentity(vendor=0x2E8A, product=10, serial="E66 1:2")),
    ],
)
def test_a_port_by_its_name_or_by_its_usb_identity(text: str, identity: UsbIdentity | None) -> None:
    assert identity_in(text) == identity
    if identity is not None:
        assert identity_in(str(identity)) == identity


@pytest.mark.parametrize("text", ["usb:", "usb:12", "usb:xyz:1", "usb:2e8a:"])
def test_half_an_identity_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="a port named") as caught:
        identity_in(text)
    assert "usb:2e8a:000a" in caught.value.allowed


def test_without_pyserial_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "serial", None)
    with pytest.raises(UsageError, match="not installed") as caught:
        SerialPorts("/dev/ttyACM0")
    assert "extra `serial`" in caught.value.remedy


@dataclass
class Listed:
    device: str
    vid: int | None = None
    pid: int | None = None
    serial_number: str | None = None


@dataclass
class Bus:
    """The serial ports of a computer without pyserial."""

    ports: list[Listed]
    taken: set[str] = field(default_factory=set)
    opened: list["FakeSerial"] = field(default_factory=list)


class SerialError(OSError):
    pass


class FakeSerial:
    """What is used of `serial.Serial`; strict about the order of things."""

    bus: Bus

    def __init__(self) -> None:
        self.port: str | None = None
        self.dtr = self.rts = True
        self.exclusive: bool | None = None
        self.is_open = False
        self.timeout: float | None = None
        self.lines_at_opening: tuple[bool, bool] | None = None
        self.incoming = b""

    def open(self) -> None:
        assert not self.is_open
        if self.port not in {one.device for one in self.bus.ports}:
            raise SerialError(f"could not open port {self.port}")
        if self.port in self.bus.taken:
            raise SerialError("device or resource busy")
        self.lines_at_opening = (self.dtr, self.rts)
        self.is_open = True
        self.handle = os.open(os.devnull, os.O_RDWR)
        self.bus.opened.append(self)

    def fileno(self) -> int:
        return self.handle

    @property
    def in_waiting(self) -> int:
        return len(self.incoming)

    def read(self, size: int) -> bytes:
        if not self.is_open:
            raise SerialError("attempting to use a port that is not open")
        data, self.incoming = self.incoming[:size], self.incoming[size:]
        return data

    def close(self) -> None:
        if self.is_open:
            os.close(self.handle)
        self.is_open = False


@pytest.fixture
def bus(monkeypatch: pytest.MonkeyPatch) -> Bus:
    made = Bus(ports=[])

    class Serial(FakeSerial):
        bus = made

    serial = types.ModuleType("serial")
    tools = types.ModuleType("serial.tools")
    listing = types.ModuleType("serial.tools.list_ports")
    content: list[tuple[Any, str, Any]] = [
        (serial, "Serial", Serial),
        (serial, "SerialException", SerialError),
        (listing, "comports", lambda: list(made.ports)),
    ]
    for module, name, value in content:
        setattr(module, name, value)
    for module in (serial, tools, listing):
        monkeypatch.setitem(sys.modules, module.__name__, module)
    return made


def test_it_is_opened_for_itself_alone_with_both_lines_low(bus: Bus) -> None:
    bus.ports = [Listed("/dev/ttyACM0", 0x2E8A, 10, "E1")]
    port = SerialPorts("/dev/ttyACM0").connect()
    (serial,) = bus.opened
    assert serial.exclusive is True
    assert serial.lines_at_opening == (False, False)
    port.close()
    port.close()


def test_all_that_has_come_is_read_at_once(bus: Bus) -> None:
    bus.ports = [Listed("/dev/ttyACM0")]
    port = SerialPorts("/dev/ttyACM0").connect()
    bus.opened[0].incoming = b"^0 0 greet 90DF\n"
    assert port.waiting == 16
    assert port.read(0.01) == b"^0 0 greet 90DF\n"
    assert port.read(0.01) == b""
    port.close()
    with pytest.raises(OSError, match="not open"):
        port.read(0.01)


def test_after_the_plug_was_pulled_the_same_device_is_found_under_another_name(bus: Bus) -> None:
    bus.ports = [Listed("/dev/ttyACM0", 0x2E8A, 10, "E1")]
    ports = SerialPorts("/dev/ttyACM0")
    ports.connect().close()
    bus.ports = []
    with pytest.raises(SourceError, match="cannot be opened"):
        ports.connect()
    bus.ports = [Listed("/dev/ttyACM0", 0x1111, 1), Listed("/dev/ttyACM1", 0x2E8A, 10, "E1")]
    ports.connect().close()
    assert bus.opened[-1].port == "/dev/ttyACM1"


def test_by_identity_one_device_alone_will_do(bus: Bus) -> None:
    bus.ports = [Listed("COM3", 0x2E8A, 10, "E1"), Listed("COM4", 0x2E8A, 10, "E2")]
    with pytest.raises(SourceError, match="2 serial ports with this identity"):
        SerialPorts("usb:2e8a:000a").connect()
    SerialPorts("usb:2e8a:000a:E2").connect().close()
    assert bus.opened[-1].port == "COM4"
    with pytest.raises(SourceError, match="no serial port with this identity") as caught:
        SerialPorts("usb:dead:beef").connect()
    assert "COM3 (usb:2e8a:000a)" in caught.value.allowed


def test_a_port_that_somebody_else_has_is_said(bus: Bus) -> None:
    bus.ports = [Listed("COM3")]
    bus.taken = {"COM3"}
    with pytest.raises(SourceError, match="busy") as caught:
        SerialPorts("COM3").connect()
    assert "no other program" in caught.value.remedy


@pytest.mark.skipif(find_spec("serial") is None, reason="pyserial, the extra `serial`, is absent")
class TestWithPyserial:
    """The real thing, over a pseudo-terminal."""

    def test_parts_are_counted(self) -> None:
        edges: list[object] = []
        with PtyBoard() as board:
            line = BeamLine(
                SerialPorts(board.name), SystemClock(), edges.extend, min_pulse_ns=100_000
            )
            line.start()
            assert line.await_total(5.0)
            board.await_time(board.parts(20, every_ms=4.0, dark_ms=2.0))
            while line.now.edges < 40:
                assert line.await_total(5.0)
            line.stop()
        assert len(line.seen().pulses) == 20
        assert len(edges) == 41

    def test_nobody_else_gets_it(self) -> None:
        with PtyBoard() as board:
            port = SerialPorts(board.name).connect()
            with pytest.raises(SourceError, match="cannot be opened"):
                SerialPorts(board.name).connect()
            port.close()
            SerialPorts(board.name).connect().close()

    def test_a_port_that_is_gone_raises(self) -> None:
        with PtyBoard() as board:
            port = SerialPorts(board.name).connect()
            board.unplug()
            with pytest.raises(OSError, match=r"."):
                list(iter(lambda: port.read(0.1), None))
            port.close()
