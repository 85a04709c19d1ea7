"""One key of an outlet file is set, and nothing else."""

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from viscount.errors import OutletError
from viscount.outlet import editing
from viscount.outlet.editing import Value, with_key, without_key
from viscount.outlet.template import outlet_template

KEY = ("view", "scale_px_per_mm")


@pytest.mark.parametrize(
    ("text", "new", "before"),
    [
        ("", "view:\n  scale_px_per_mm: 4.5\n", None),
        ("# mine\n", "# mine\nview:\n  scale_px_per_mm: 4.5\n", None),
        (
            "view:  # seen\n  scale_px_per_mm: 3.0  # by eye\n  falls: down\n",
            "view:  # seen\n  scale_px_per_mm: 4.5  # by eye\n  falls: down\n",
            3.0,
        ),
        (
            "view:\n    # where\n    falls: down\nmotion:\n  kind: belt",
            "view:\n    # where\n    scale_px_per_mm: 4.5\n    falls: down\nmotion:\n  kind: belt",
            None,
        ),
        (
            "motion:\n  kind: belt  # slow\n# end",
            "motion:\n  kind: belt  # slow\n# end\nview:\n  scale_px_per_mm: 4.5\n",
            None,
        ),
        ("view: {falls: up}\n", "view: {scale_px_per_mm: 4.5, falls: up}\n", None),
        ("view: {}\n", "view: {scale_px_per_mm: 4.5}\n", None),
        (
            "view: {scale_px_per_mm: 3, falls: up} # f\n",
            "view: {scale_px_per_mm: 4.5, falls: up} # f\n",
            3,
        ),
        ("view:  # empty\n", "view:  # empty\n  scale_px_per_mm: 4.5\n", None),
        (
            "view:\nmotion:\n  kind: belt\n",
            *("view:\n  scale_px_per_mm: 4.5\nmotion:\n  kind: belt\n", None),
        ),
        (
            "view:\n  scale_px_per_mm:\n  falls: up\n",
            "view:\n  scale_px_per_mm: 4.5\n  falls: up\n",
            None,
        ),
        (
            "{motion: {kind: belt}}\n",
            "{view: {scale_px_per_mm: 4.5}, motion: {kind: belt}}\n",
            None,
        ),
        ("view:\r\n  falls: up\r\n", "view:\r\n  scale_px_per_mm: 4.5\r\n  falls: up\r\n", None),
        ("\"view\":\n  'falls': up\n", "\"view\":\n  scale_px_per_mm: 4.5\n  'falls': up\n", None),
    ],
)
def test_only_the_key_changes(text: str, new: str, before: object):
    edited = with_key(text, KEY, 4.5, where="outlet.yaml")
    assert edited.text == new
    assert edited.before == before


@pytest.mark.parametrize("key", [KEY, ("camera", "line_time_us")])
def test_a_template_keeps_its_words(key: tuple[str, str]):
    text = outlet_template()
    new = with_key(text, key, 7.25, where="outlet.yaml").text
    gone = [line for line in text.splitlines() if line not in new.splitlines()]
    added = [line for line in new.splitlines() if line not in text.splitlines()]
    assert gone == []
    assert {line.strip() for line in added} <= {f"{key[1]}: 7.25", f"{key[0]}:"}
    assert yaml.safe_load(new)[key[0]][key[1]] == 7.25


@given(value=st.floats(1e-3, 1e3), other=st.integers(-5, 5), spaces=st.integers(1, 4))
def test_it_reads_back_as_the_same(value: float, other: int, spaces: int):
    text = f"view:\n{' ' * spaces}line_px: {other}\n"
    once = with_key(text, KEY, value, where="x").text
    assert yaml.safe_load(once)["view"] == {"line_px": other, "scale_px_per_mm": value}
    twice = with_key(once, KEY, value, where="x")
    assert twice.text == once
    assert twice.before == value


def test_an_edit_that_would_change_more_is_refused(monkeypatch: pytest.MonkeyPatch):
    wrong = "view:\n  scale_px_per_mm: 4.5\n  falls: down\n"
    monkeypatch.setattr(editing, "_edited", lambda *_, **__: wrong)
    with pytest.raises(OutletError, match="without changing something else"):
        with_key("view:\n  falls: up\n", KEY, 4.5, where="outlet.yaml")


@pytest.mark.parametrize(
    "text",
    ["- a list\n", "view: 3\n", "view: [1]\n", "view: &a {falls: up}\n", "view:\n\tfalls: up\n"],
)
def test_what_cannot_be_edited_is_refused(text: str):
    with pytest.raises(OutletError) as refused:
        with_key(text, KEY, 4.5, where="outlet.yaml")
    assert "outlet.yaml" in str(refused.value)


@pytest.mark.parametrize(
    ("path", "value", "text", "new"),
    [
        (("view", "falls"), "up", "view: {falls: down}\n", "view: {falls: up}\n"),
        (
            ("view", "region_px"),
            (1, 2, 30, 40),
            "view:\n  region_px: [0, 0,\n    9, 9]  # whole\n  falls: up\n",
            "view:\n  region_px: [1, 2, 30, 40]  # whole\n  falls: up\n",
        ),
        (
            ("beam", "at_px"),
            252.0,
            "beam:\n  # the ray\n  below_lip_mm: 60  # by ruler\n  width_mm: 1\n",
            "beam:\n  # the ray\n  at_px: 252.0  # by ruler\n  width_mm: 1\n",
        ),
        (("gate", "at_px"), 9.0, "gate: {below_lip_mm: 60}\n", "gate: {at_px: 9.0}\n"),
        (("gate", "below_lip_mm"), 9.0, "", "gate:\n  below_lip_mm: 9.0\n"),
    ],
)
def test_words_lists_and_the_other_of_a_pair(
    path: tuple[str, str], value: Value, text: str, new: str
):
    assert with_key(text, path, value, where="outlet.yaml").text == new


@pytest.mark.parametrize(
    ("text", "new", "before"),
    [
        ("view:\n  lip_px: 3  # off\n  falls: up\n", "view:\n  falls: up\n", 3),
        ("view:\n  falls: up\n  lip_px: 3", "view:\n  falls: up\n", 3),
        ("view:\n  lip_px: 3\n", "view:\n", 3),
        ("view:\n  # where\n  lip_px:\n  falls: up\n", "view:\n  # where\n  falls: up\n", None),
        ("view: {lip_px: 3, falls: up}\n", "view: {falls: up}\n", 3),
        ("view: {falls: up, lip_px: 3}\n", "view: {falls: up}\n", 3),
        ("view: {lip_px: 3}\n", "view: {}\n", 3),
        ("view:\r\n  lip_px: 3\r\n  falls: up\r\n", "view:\r\n  falls: up\r\n", 3),
        ("view: {falls: up}\n", "view: {falls: up}\n", None),
        ("", "", None),
    ],
)
def test_a_key_is_removed_and_nothing_else(text: str, new: str, before: object):
    edited = without_key(text, ("view", "lip_px"), where="outlet.yaml")
    assert edited.text == new
    assert edited.before == before


def test_a_removal_that_would_take_more_is_refused(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(editing, "_cut", lambda *_: "view:\n")
    with pytest.raises(OutletError, match="cannot be removed without changing something else"):
        without_key("view:\n  lip_px: 3\n  falls: up\n", ("view", "lip_px"), where="x")


@given(
    numbers=st.dictionaries(
        st.sampled_from(["lip_px", "line_px", "scale_px_per_mm", "falls"]), st.integers(1, 9)
    ),
    indent=st.integers(1, 4),
    braces=st.booleans(),
)
def test_what_is_set_and_removed_again_leaves_what_was_said(
    numbers: dict[str, int], indent: int, braces: bool
):
    pairs = [f"{name}: {number}" for name, number in numbers.items()]
    text = f"view: {{{', '.join(pairs)}}}\n"
    if not braces:
        text = "view:\n" + "".join(f"{' ' * indent}{pair}\n" for pair in pairs)
    path = ("view", "lip_px")
    gone = without_key(with_key(text, path, 5.0, where="x").text, path, where="x").text
    rest = {name: number for name, number in numbers.items() if name != "lip_px"}
    assert (yaml.safe_load(gone)["view"] or {}) == rest
