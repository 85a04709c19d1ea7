"""What the program and plugins may rely on of each other; one test a hook, named after it."""

import sys
from importlib import metadata

import pytest

from viscount.errors import PluginError
from viscount.hooks.loading import BUILT_IN, load_plugins
from viscount.seams import API, Aim, Fitting, View
from viscount.testing import FakeDetector, check_camera, check_detector
from viscount.values import Falls

PLUGIN = """
from viscount.hooks.specs import hookimpl
from viscount.seams import Entry, Options
from viscount.testing import FakeDetector

class StepOptions(Options):
    step: float = 20.0

@hookimpl
def viscount_detectors():
    return [
        Entry(
            api=1,
            name="fixed-step",
            summary="a step from the first frames",
            options=StepOptions,
            make=lambda options, view: FakeDetector(view, step=options.step),
        )
    ]
"""


@pytest.fixture
def installed(tmp_path, monkeypatch):
    """A plugin as an installer leaves it: a module, and a folder of metadata."""
    info = tmp_path / "acme_detectors-3.1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Name: acme-detectors\nVersion: 3.1\n", encoding="utf-8")
    points = "[viscount]\nfixed-step = acme_detectors\n"
    (info / "entry_points.txt").write_text(points, encoding="utf-8")
    (tmp_path / "acme_detectors.py").write_text(PLUGIN, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    search = metadata.distributions
    monkeypatch.setattr(metadata, "distributions", lambda: search(path=[str(tmp_path)]))
    yield
    sys.modules.pop("acme_detectors", None)


def test_hook_viscount_detectors(installed):
    registry = load_plugins()
    assert registry.refused == ()
    assert [(one.entry.name, one.origin) for one in registry.detectors.values()] == [
        ("difference", BUILT_IN),
        ("mixture", BUILT_IN),
        ("fixed-step", "acme-detectors 3.1"),
    ]
    detector = registry.make_detector("fixed-step", {"step": 33}, View(), where="outlet.yaml")
    assert isinstance(detector, FakeDetector)


CAMERAS = """
from viscount.hooks.specs import hookimpl
from viscount.seams import Entry, Options
from viscount.testing import FakeCamera
import numpy as np

class GreyOptions(Options):
    grey: int = 90

@hookimpl
def viscount_cameras():
    def make(options, aim):
        pictures = [np.full((8, 6), options.grey + k, np.uint8) for k in range(int(aim.address))]
        return FakeCamera.of_pictures(pictures)
    return [Entry(api=1, name="grey", summary="grey pictures", options=GreyOptions, make=make)]
"""


def test_hook_viscount_cameras(installed, tmp_path):
    (tmp_path / "acme_detectors.py").write_text(CAMERAS, encoding="utf-8")
    registry = load_plugins()
    assert registry.refused == ()
    assert [(one.entry.name, one.origin) for one in registry.cameras.values()] == [
        ("device", BUILT_IN),
        ("stream", BUILT_IN),
        ("folder", BUILT_IN),
        ("replay", BUILT_IN),
        ("scene", BUILT_IN),
        ("grey", "acme-detectors 3.1"),
    ]
    check_camera(lambda: registry.make_camera("grey", {"grey": 7}, Aim(address="5")), frames=5)
    with pytest.raises(PluginError, match="unknown key, nearest known is 'grey'") as caught:
        registry.make_camera("grey", {"gray": 7}, Aim(address="5"))
    assert caught.value.where == "camera.gray"
    with pytest.raises(PluginError, match="there is no camera 'gray'"):
        registry.make_camera("gray", {}, Aim(address="5"))
    with pytest.raises(PluginError, match="could not be made: ValueError"):
        registry.make_camera("grey", {}, Aim(address="five"))


TRIGGERS = """
from viscount.hooks.specs import hookimpl
from viscount.seams import GateEntry, Harmless, Keeper, Options
from viscount.testing import FakeTrigger

class PinOptions(Options):
    on_ms: int = 700

@hookimpl
def viscount_gate_triggers():
    return [
        GateEntry(
            api=1, name="pin", summary="a pin of this computer", options=PinOptions,
            make=lambda options, fitting: FakeTrigger(on_ms=options.on_ms),
            harmless=Harmless(position="coil off", keeper=Keeper.PROCESS),
        )
    ]
"""


def test_hook_viscount_gate_triggers(installed, tmp_path):
    (tmp_path / "acme_detectors.py").write_text(TRIGGERS, encoding="utf-8")
    registry = load_plugins()
    assert registry.refused == ()
    assert [(one.entry.name, one.origin) for one in registry.gate_triggers.values()] == [
        ("serial", BUILT_IN),
        ("simulated", BUILT_IN),
        ("pin", "acme-detectors 3.1"),
    ]
    made = registry.make_gate_trigger("pin", {"on_ms": 90}, Fitting())
    assert made.limits.on_ms == 90
    with pytest.raises(PluginError, match="unknown key, nearest known is 'on_ms'") as caught:
        registry.make_gate_trigger("pin", {"on_m": 7}, Fitting(), where="outlet.yaml")
    assert caught.value.where == "outlet.yaml: gate.options.on_m"
    with pytest.raises(PluginError, match="there is no gate trigger 'pun'"):
        registry.make_gate_trigger("pun", {}, Fitting())
    told = {row.name: row.summary for row in registry.rows()}
    assert "coil not off after kill -9" in told["pin"]
    assert "coil off by the board" in told["serial"]


SAYS = 'harmless=Harmless(position="coil off", keeper=Keeper.PROCESS)'


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (
            TRIGGERS.replace(SAYS + ",", "").replace("GateEntry", "Entry"),
            "not a viscount.GateEntry that says what its harmless position is",
        ),
        (TRIGGERS.replace(SAYS, "harmless='off'"), "does not say what its harmless position is"),
    ],
)
def test_a_gate_trigger_that_does_not_say_what_is_harmless_is_refused(
    installed, tmp_path, entry, said
):
    (tmp_path / "acme_detectors.py").write_text(entry, encoding="utf-8")
    (refusal,) = load_plugins().refused
    assert said in refusal.reason


def test_the_plugin_interface_keeps_its_number():
    # Raising it refuses every plugin there is: only for a change that breaks them.
    assert API == 1


def test_built_in_entries_take_no_option_for_granted(installed):
    registry = load_plugins()
    for name in ("difference", "mixture"):
        assert registry.make_detector(name, {}, View(), where="")


@pytest.mark.parametrize(
    ("name", "falls"),
    [
        ("difference", Falls.DOWN),
        ("difference", Falls.LEFT),
        ("mixture", Falls.RIGHT),
        ("fixed-step", Falls.UP),
    ],
)
def test_the_conformance_kit_holds_for_built_in_fake_and_installed_alike(installed, name, falls):
    registry = load_plugins()
    view = View(falls=falls)
    check_detector(lambda: registry.make_detector(name, {}, view, where=""), falls=falls)
