"""Faulty plugins, installed like real ones: each is refused alone, with its reason and owner."""

import sys
from importlib import metadata
from types import ModuleType

import pytest

from viscount.errors import PluginError
from viscount.hooks.loading import load_plugins
from viscount.seams import Options, View

HEAD = """
from viscount.hooks.specs import hookimpl
from viscount.seams import Entry, Options

class Mine(Options):
    level: int = 1

class Open(Options, extra="allow"):
    level: int = 1

class Thawed(Options, frozen=False):
    level: int = 1

def make(options, view):
    raise AssertionError("never made")

def entry(**changed):
    usual = {"api": 1, "name": "mine", "summary": "s", "options": Mine, "make": make}
    return Entry(**(usual | changed))
"""


def hook(head: str, body: str, mark: str = "@hookimpl") -> str:
    """Return a plugin with one hook."""
    return f"{HEAD}\n{mark}\ndef {head}:\n    {body}\n"


def returning(answer: str) -> str:
    """Return a plugin with the right hook, and this answer."""
    return hook("viscount_detectors()", f"return {answer}")


def good(name: str) -> str:
    return returning(f"[entry(name='{name}')]")


# What the plugin's file says, and words that the refusal must have.
FAULTS = {
    "missing import": ("import no_such_module", "it cannot be imported: .*'no_such_module'"),
    "syntax": ("def (", "it cannot be imported: SyntaxError"),
    "exits at import": ("raise SystemExit(3)", "it cannot be imported: SystemExit: 3"),
    "odd exception": ("class Odd(BaseException): pass\nraise Odd", "it cannot be imported: Odd"),
    "exception without words": (
        "class Mute(Exception):\n    def __str__(self): raise ValueError\nraise Mute",
        "it cannot be imported: Mute",
    ),
    "other interface": (
        returning("[entry(api=2)]"),
        "written for plugin interface 2; this release speaks 1",
    ),
    "misspelt hook": (
        hook("viscount_detecters()", "return []"),
        "no hook is called viscount_detecters, nearest known is 'viscount_detectors'",
    ),
    "misspelt specname": (
        hook("mine()", "return []", mark="@hookimpl(specname='viscount_detektors')"),
        "no hook is called viscount_detektors, nearest known is 'viscount_detectors'",
    ),
    "hook of a coming release": (
        good("mine") + "\n@hookimpl\ndef viscount_passage(passage):\n    pass\n",
        "no hook is called viscount_passage",
    ),
    "undecorated hook": (
        hook("viscount_detectors()", "return [entry()]", mark=""),
        "function viscount_detectors is not marked with @viscount.hookimpl",
    ),
    "undecorated beside a good one": (
        good("mine") + "\ndef viscount_helper():\n    pass\n",
        "function viscount_helper is not marked",
    ),
    "marked for another project": (
        "import pluggy\n"
        + hook("viscount_detectors()", "return []", mark="@pluggy.HookimplMarker('other')"),
        "function viscount_detectors is not marked",
    ),
    "undecorated partial": (
        HEAD + "\nimport functools\nviscount_detectors = functools.partial(list)\n",
        "function viscount_detectors is not marked",
    ),
    "no hook at all": (HEAD, "it has no function marked with @viscount.hookimpl"),
    "exits when looked at": (
        good("mine") + "\ndef __dir__():\n    raise SystemExit(4)\n",
        "SystemExit: 4",
    ),
    "unknown argument": (
        hook("viscount_detectors(config)", "return []"),
        "wrong signature: PluginValidationError: .*config",
    ),
    "argument by keyword only": (
        hook("viscount_detectors(*, config)", "return []"),
        "hook viscount_detectors raised TypeError: .*config",
    ),
    "wrapper": (
        hook("viscount_detectors()", "return (yield)", mark="@hookimpl(wrapper=True)"),
        "hook viscount_detectors is marked as a wrapper",
    ),
    "hook raises": (
        returning("[1 / 0]"),
        "hook viscount_detectors raised ZeroDivisionError: division by zero",
    ),
    "hook exits": (
        hook("viscount_detectors()", "raise SystemExit"),
        "hook viscount_detectors raised SystemExit",
    ),
    "returns None": (returning("None"), "hook viscount_detectors returned None, not a list"),
    "returns an entry": (returning("entry()"), "returned a Entry, not a list"),
    "returns a generator": (returning("(e for e in [])"), "returned a generator, not a list"),
    "returns names": (returning("['mine']"), "a list holding a str, not a viscount.Entry"),
    "name in capitals": (returning("[entry(name='Mine')]"), "the name 'Mine' is not of the form"),
    "name underscored": (returning("[entry(name='my_own')]"), "the name 'my_own' is not of"),
    "name with a line end": (returning("[entry(name='mine\\n')]"), "is not of the form"),
    "name empty": (returning("[entry(name='')]"), "the name '' is not of the form"),
    "name no text": (returning("[entry(name=7)]"), "the name 7 is not of the form"),
    "summary of two lines": (returning("[entry(summary='a\\nb')]"), "'mine' is not one line"),
    "summary empty": (returning("[entry(summary='')]"), "the summary of 'mine' is not one line"),
    "options a dict": (returning("[entry(options={})]"), "the options of 'mine' are no subclass"),
    "options an instance": (returning("[entry(options=Mine())]"), "'mine' are no subclass"),
    "options another model": (
        "from pydantic import BaseModel\n" + returning("[entry(options=BaseModel)]"),
        "the options of 'mine' are no subclass",
    ),
    "options opened": (returning("[entry(options=Open)]"), "no longer frozen and closed"),
    "options thawed": (returning("[entry(options=Thawed)]"), "no longer frozen and closed"),
    "maker no function": (returning("[entry(make='make')]"), "maker of 'mine' cannot be called"),
    "second entry bad": (returning("[entry(), entry(name='b', api=0)]"), "plugin interface 0"),
    "built-in's name": (
        returning("[entry(name='difference')]"),
        "the name 'difference' is already that of a detector from built-in",
    ),
    "neighbour's name": (
        returning("[entry(name='good-before')]"),
        "already that of a detector from aa-good 1.0",
    ),
}


@pytest.fixture
def install(tmp_path, monkeypatch):
    """Install distributions into a folder of their own, and hide all others.

    The built-in detectors are stand-ins: these tests are about the door, not about seeing.
    """
    for module, kind in (("difference", "Difference"), ("mixture", "Mixture")):
        fake = ModuleType(f"viscount.vision.{module}")
        vars(fake)[f"{kind}Detector"] = lambda options, view: None
        vars(fake)[f"{kind}Options"] = Options
        monkeypatch.setitem(sys.modules, fake.__name__, fake)
    monkeypatch.syspath_prepend(tmp_path)
    search = metadata.distributions
    monkeypatch.setattr(metadata, "distributions", lambda: search(path=[str(tmp_path)]))
    modules: list[str] = []

    def write(distribution: str, source: str, *, point: str = "p") -> None:
        module = distribution.replace("-", "_") + "_plugin"
        modules.append(module)
        info = tmp_path / f"{distribution}-1.0.dist-info"
        info.mkdir()
        metadata_text = f"Metadata-Version: 2.1\nName: {distribution}\nVersion: 1.0\n"
        (info / "METADATA").write_text(metadata_text, encoding="utf-8")
        lines = f"[viscount]\n{point} = {module}\n"
        (info / "entry_points.txt").write_text(lines, encoding="utf-8")
        (tmp_path / f"{module}.py").write_text(source, encoding="utf-8")

    yield write
    for module in modules:
        sys.modules.pop(module, None)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_faulty_plugin_is_refused_alone_with_its_reason_and_owner(install, fault):
    source, words = FAULTS[fault]
    install("aa-good", good("good-before"))
    install("mm-faulty", source)
    install("zz-good", good("good-after"))
    registry = load_plugins()
    assert list(registry.detectors) == ["difference", "mixture", "good-before", "good-after"]
    (refusal,) = registry.refused
    assert refusal.origin == "mm-faulty 1.0"
    assert refusal.plugin == "p"
    assert "\n" not in refusal.reason
    with pytest.raises(AssertionError, match=words):
        raise AssertionError(refusal.reason)


def test_the_good_plugin_that_all_the_faulty_ones_are_made_from_is_taken(install):
    install("mm-good", good("mine"))
    registry = load_plugins()
    assert registry.refused == ()
    assert registry.detectors["mine"].origin == "mm-good 1.0"


def test_using_a_refused_plugins_name_tells_why(install):
    install("mm-faulty", returning("[entry(api=2)]"))
    with pytest.raises(PluginError) as caught:
        load_plugins().make_detector("mine", {}, View(), where="outlet.yaml")
    assert "mm-faulty 1.0" in caught.value.found
    assert "plugin interface 2" in caught.value.found


def test_where_the_import_failed_the_entry_points_own_name_finds_the_reason(install):
    install("mm-faulty", "import no_such_module", point="mine")
    with pytest.raises(PluginError) as caught:
        load_plugins().make_detector("mine", {}, View(), where="outlet.yaml")
    assert "no_such_module" in caught.value.found


def test_the_first_of_two_distributions_of_one_name_hides_the_other(install, tmp_path):
    install("mm-good", good("mine"))
    old = tmp_path / "MM_good-0.9.dist-info"
    old.mkdir()
    (old / "METADATA").write_text("Name: MM_good\nVersion: 0.9\n", encoding="utf-8")
    (old / "entry_points.txt").write_text("[viscount]\np = mm_good_plugin\n", encoding="utf-8")
    registry = load_plugins()
    assert len(registry.detectors) == 3
    assert registry.refused == ()
