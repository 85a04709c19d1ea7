"""No hook without its words and its test, and no words about a hook that does not exist."""

import ast
import inspect
import re
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

from viscount.hooks import specs


def documented(page: str) -> set[str]:
    """The hooks that the page describes, each with its arguments."""
    return set(re.findall(r"^### (viscount_\w+\(.*\))$", page, re.MULTILINE))


def named_in_tests(source: str) -> set[str]:
    """The hooks that have a test of their own, named after them."""
    functions = [node for node in ast.parse(source).body if isinstance(node, ast.FunctionDef)]
    return {f.name.removeprefix("test_hook_") for f in functions if f.name.startswith("test_hook_")}


def faults(module: ModuleType | SimpleNamespace, page: str, source: str) -> list[str]:
    """What is missing or too much, in words."""
    found = []
    headings = set()
    for name in module.declared():
        function = getattr(module, name)
        heading = f"{name}({', '.join(inspect.signature(function).parameters)})"
        headings.add(heading)
        if not inspect.getdoc(function):
            found.append(f"{name} has no docstring")
        if heading not in documented(page):
            found.append(f"{heading} has no heading on the page")
        if name not in named_in_tests(source):
            found.append(f"{name} has no test called test_hook_{name}")
    found += [f"the page describes {one}" for one in sorted(documented(page) - headings)]
    return found


def test_every_hook_is_documented_and_tested_and_no_other_is(root: Path) -> None:
    page = (root / "plugins" / "README.md").read_text(encoding="utf-8")
    source = (root / "tests" / "contract" / "test_plugins.py").read_text(encoding="utf-8")
    assert faults(specs, page, source) == []


def viscount_things(view: object) -> list[object]:
    """Return things."""
    return [view]


PAGE = "# Plugins\n\n### viscount_things(view)\n\nText.\n"
TEST = "def test_hook_viscount_things(): pass\n"


@pytest.mark.parametrize(
    ("page", "source", "fault"),
    [
        (PAGE, TEST, None),
        ("# Plugins\n", TEST, "viscount_things(view) has no heading on the page"),
        (PAGE.replace("view", ""), TEST, "the page describes viscount_things()"),
        (PAGE + "### viscount_more()\n", TEST, "the page describes viscount_more()"),
        (PAGE, "# def test_hook_viscount_things", "viscount_things has no test called"),
    ],
)
def test_what_is_missing_is_found(page: str, source: str, fault: str | None) -> None:
    module = SimpleNamespace(declared=lambda: ("viscount_things",), viscount_things=viscount_things)
    found = faults(module, page, source)
    assert any(one.startswith(fault) for one in found) if fault else found == []


def test_a_missing_docstring_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(viscount_things, "__doc__", None)
    module = SimpleNamespace(declared=lambda: ("viscount_things",), viscount_things=viscount_things)
    assert faults(module, PAGE, TEST) == ["viscount_things has no docstring"]
