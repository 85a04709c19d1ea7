from typing import Any

import pytest
from pydantic import BaseModel, ConfigDict, Field, field_validator

from viscount.errors import PluginError
from viscount.hooks.options import checked_options
from viscount.seams import Options


class Window(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    first_px: int = 0
    last_px: int = 9


class Fixed(Options):
    threshold: float = Field(default=30.0, gt=0)
    least_area_px: int = Field(default=6, alias="min_area_px")
    window: Window = Window()


class Needing(Options):
    level: int


class Broken(Options):
    level: int = 1

    @field_validator("level")
    @classmethod
    def _breaks(cls, value: int) -> int:
        raise KeyError(value)


def check(given: dict[str, Any], model: type[Options] = Fixed, where: str = "o.yaml") -> Options:
    return checked_options(
        model, given, key="detector.options", where=where, owner="detector 'fixed' (fixed 1.0)"
    )


def test_options_that_fit_come_back_as_the_frozen_model():
    options = check({"threshold": 12, "window": {"last_px": 4}})
    assert options == Fixed(threshold=12.0, window=Window(last_px=4))
    with pytest.raises(ValueError, match="frozen"):
        options.threshold = 3.0  # type: ignore[attr-defined]


def test_defaults_stand_where_nothing_is_given():
    assert check({}) == Fixed()


def test_an_error_names_file_key_path_plugin_and_what_is_allowed():
    with pytest.raises(PluginError) as caught:
        check({"threshold": -1})
    assert str(caught.value) == (
        "o.yaml: detector.options.threshold: -1 does not fit; "
        "these are options of detector 'fixed' (fixed 1.0); "
        "allowed: greater than 0"
    )


def test_without_a_file_the_key_path_stands_alone():
    with pytest.raises(PluginError) as caught:
        check({"threshold": -1}, where="")
    assert caught.value.where == "detector.options.threshold"


@pytest.mark.parametrize(
    ("given", "where", "near", "allowed"),
    [
        ({"treshold": 3}, "treshold", "'threshold'", "threshold, min_area_px, window"),
        ({"min_area": 3}, "min_area", "'min_area_px'", "threshold, min_area_px, window"),
        ({"window": {"frist_px": 1}}, "window.frist_px", "'first_px'", "first_px, last_px"),
    ],
)
def test_an_unknown_key_is_told_its_nearest_neighbour(given, where, near, allowed):
    with pytest.raises(PluginError) as caught:
        check(given)
    assert caught.value.where == f"o.yaml: detector.options.{where}"
    assert f"nearest known is {near}" in caught.value.found
    assert caught.value.allowed == allowed


def test_an_unknown_key_unlike_all_others_gets_no_guess():
    with pytest.raises(PluginError) as caught:
        check({"zzz": 1})
    assert caught.value.found.startswith("unknown key;")


def test_a_model_without_keys_says_so():
    with pytest.raises(PluginError) as caught:
        check({"threshold": 1}, model=Options)
    assert caught.value.allowed == "no keys at all"


def test_a_missing_key_is_named():
    with pytest.raises(PluginError) as caught:
        check({}, model=Needing)
    assert caught.value.where == "o.yaml: detector.options.level"
    assert caught.value.found.startswith("the key is missing")


def test_further_faults_are_named_too():
    with pytest.raises(PluginError) as caught:
        check({"threshold": -1, "min_area_px": "many", "colour": 1})
    assert "(also wrong: detector.options.min_area_px, detector.options.colour)" in str(
        caught.value
    )


def test_a_model_that_breaks_is_its_owners_fault_and_no_traceback():
    with pytest.raises(PluginError, match=r"detector 'fixed' \(fixed 1\.0\) raised KeyError: 1"):
        check({"level": 1}, model=Broken)
