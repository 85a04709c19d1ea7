"""The protocol's page says what the code does: examples, fields, states, times, bytes."""

import re
from importlib.resources import files
from itertools import product

import pytest

from viscount.devices.protocol.fields import FieldRule
from viscount.devices.protocol.line import LONGEST, Line, checksum, read_body, write_line
from viscount.devices.protocol.messages import (
    FROM_BOARD,
    FROM_HOST,
    LEASE_MS,
    RENEW_MS,
    STANDS_MS,
    TOTAL_MS,
    VERSION,
    Message,
    from_line,
    rules,
)
from viscount.devices.protocol.states import FAULTS, TRANSITIONS, Happening
from viscount.devices.protocol.words import Refusal, State


@pytest.fixture(scope="module")
def page() -> str:
    """The page as it lies beside the code, wherever that is installed."""
    return (files("viscount.devices.protocol") / "PROTOCOL.md").read_text(encoding="utf-8")


def section(page: str, heading: str) -> str:
    (found,) = re.findall(rf"^## {heading}\n(.*?)(?=^## |\Z)", page, re.MULTILINE | re.DOTALL)
    return found


def rows(text: str, columns: int) -> list[tuple[str, ...]]:
    """The rows of a section's tables with so many columns, without their heads."""
    found = [tuple(cell.strip() for cell in line.split("|")[1:-1]) for line in text.splitlines()]
    tables = [row for row in found if len(row) == columns and set(row[0]) != {"-"}]
    return tables[1:]


def examples(page: str) -> list[str]:
    return re.findall(r"^\^[0-9].*$", page, re.MULTILINE)


def test_the_version_is_this_one(page: str):
    assert f"\nVersion {VERSION}. " in page


def test_the_checksum_is_named_with_its_check_value(page: str):
    assert "CRC-16/IBM-3740" in page
    assert f"For the nine bytes `123456789` it is `{checksum(b'123456789'):04X}`" in " ".join(
        page.split()
    )


def test_every_example_is_a_valid_line_that_can_be_made(page: str):
    assert len(examples(page)) == 15
    for example in examples(page):
        line = read_body(example[1:].encode("ascii"))
        assert isinstance(line, Line), example
        assert from_line(line) is not None, example
        assert write_line(line) == example.encode("ascii") + b"\n"


def test_examples_show_both_directions(page: str):
    kinds = {example.split()[2] for example in examples(page)}
    assert {"greet", "renew", "ready", "open", "watch"} < kinds
    assert {"hello", "limits", "edge", "total", "ok", "no", "opened", "over", "switch"} < kinds


@pytest.mark.parametrize(
    ("heading", "kinds"), [("What a board sends", FROM_BOARD), ("What the host sends", FROM_HOST)]
)
def test_fields_stand_as_they_are_written(
    page: str, heading: str, kinds: tuple[type[Message], ...]
):
    told: dict[str, dict[str, str]] = {}
    for kind, name, allowed in rows(section(page, heading), 3):
        fields = told.setdefault(kind.strip("`") or list(told)[-1], {})
        if name:
            fields[name.strip("`")] = allowed
    assert told == {kind.KIND: _allowed(rules(kind)) for kind in kinds}


def _allowed(ruled: dict[str, FieldRule]) -> dict[str, str]:
    return {name: rule.allowed() for name, rule in ruled.items()}


@pytest.mark.parametrize("kind", [*FROM_BOARD, *FROM_HOST])
def test_every_kind_is_told_in_words(page: str, kind: type[Message]):
    assert re.search(rf"^- \*\*(`\w+`\*\* and \*\*)?`{kind.KIND}`\*\*", page, re.MULTILINE)


def test_reasons_stand_in_their_order(page: str):
    told = [row[0].strip("`") for row in rows(section(page, "What the host sends"), 2)]
    assert told == list(Refusal)


def test_every_transition_stands_there_and_no_other(page: str):
    told = rows(section(page, "The gate's states"), 4)
    assert told == [_row(state, happening) for state, happening in TRANSITIONS]
    assert len(told) == len(set(told))


def _row(state: State, happening: Happening) -> tuple[str, str, str, str]:
    step = TRANSITIONS[state, happening]
    says = []
    if step.refusal:
        says.append(f"`no` {step.refusal}")
    elif step.to is State.OPEN:
        says.append("`opened`")
    if step.over:
        says.append(f"`over` {step.over}")
    if step.to is State.FAULT and not step.refusal:
        says.append(f"`fault` {FAULTS[happening]}")
    return state, happening, step.to, ", ".join(says)


def test_every_state_and_happening_is_used(page: str):
    told = rows(section(page, "The gate's states"), 4)
    assert {row[0] for row in told} == set(State)
    assert {row[1] for row in told} == set(Happening)


def test_times_and_sizes_are_those_of_the_code(page: str):
    plain = " ".join(page.split())
    assert f"The host renews every {RENEW_MS} ms." in plain
    assert f"switches the coil off {LEASE_MS} ms after the last good renewal" in plain
    assert f"a lease of {LEASE_MS} ms" in plain
    assert plain.count(f"at least every {TOTAL_MS} ms") == 2
    assert f"A level that has stood for {STANDS_MS} ms is a change" in plain
    assert f"A line is at most {LONGEST} bytes long" in plain


def test_no_byte_of_a_line_turns_into_a_mark_when_one_bit_flips(page: str):
    assert "becomes `^` or a line feed when one bit of it" in " ".join(page.split())
    used = b"0123456789abcdefghijklmnopqrstuvwxyz.- ABCDEF"
    marks = b"^\n"
    flips = {byte ^ 1 << bit for byte, bit in product(used, range(8))}
    assert not flips & set(marks)
    turned = {byte ^ 1 << bit for byte, bit in product(marks, range(8))}
    assert not turned & set(used + marks)


def test_the_page_says_what_is_left_to_the_hardware_and_what_to_beware_of(page: str):
    words = section(page, "What the hardware is free to choose")
    for word in ("resistor", "diode", "fuse", "hot", "pinches", "small parts", "licensed", "law"):
        assert word in words.lower()
    assert "safe state" not in page.lower()


def test_the_page_is_wrapped(page: str):
    for line in page.splitlines():
        assert len(line) <= 100 or line.startswith("|"), line
