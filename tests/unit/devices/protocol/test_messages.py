from dataclasses import FrozenInstanceError, replace
from typing import Any

import pytest

from viscount.devices.protocol.fields import U32, Fitted, Flag, Has, Name, OneOf, Whole
from viscount.devices.protocol.line import LONGEST, write_line
from viscount.devices.protocol.messages import (
    FROM_BOARD,
    FROM_HOST,
    EdgeSeen,
    Greet,
    Hello,
    Line,
    Message,
    Ok,
    Ready,
    from_line,
    known_kind,
    rules,
    to_line,
)
from viscount.devices.protocol.words import State
from viscount.errors import UsageError

EDGE = EdgeSeen(seq=5, t_us=2101250, blocked=True)
READY = Ready(count=60, early=1, delay_us=0, on_ms=1, expiry_ms=1)


def widest(rule: Any) -> Any:
    """The value that takes the most bytes."""
    match rule:
        case Whole(most=most):
            return most
        case Flag():
            return True
        case Name(longest=longest):
            return "n" * longest
        case Fitted():
            return Has(True, True, True, True)
        case OneOf(words=words):
            return max(words, key=len)
    raise AssertionError(rule)


@pytest.mark.parametrize("kind", [*FROM_BOARD, *FROM_HOST])
def test_the_widest_line_of_each_kind_fits_and_comes_back(kind: type[Message]):
    message = kind(**{name: widest(rule) for name, rule in rules(kind).items()})
    if isinstance(message, Ready):
        message = replace(message, early=message.count - 1)
    line = to_line(message, number=65535, boot=65535)
    assert len(write_line(line)) <= LONGEST
    assert from_line(line) == message


def test_kinds_differ_so_that_an_echo_is_known():
    kinds = [kind.KIND for kind in (*FROM_BOARD, *FROM_HOST)]
    assert len(set(kinds)) == len(kinds)
    assert all(known_kind(kind) for kind in kinds)
    assert not known_kind("juggle")


def test_messages_are_frozen():
    with pytest.raises(FrozenInstanceError):
        EDGE.seq = 6  # type: ignore[misc]


@pytest.mark.parametrize(
    ("message", "words"),
    [
        (replace(EDGE, seq=U32 + 1), "edge: seq: 4294967296; allowed: 0 to 4294967295"),
        (replace(EDGE, seq=-1), "edge: seq: -1; allowed: 0 to 4294967295"),
        (replace(EDGE, seq=True), "edge: seq: True"),
        (replace(EDGE, blocked=1), "edge: blocked: 1; allowed: 0 or 1"),
        (replace(READY, count=0, early=0), "ready: count: 0; allowed: 1 to 65535"),
        (replace(READY, early=60), "ready: early: .*allowed: fewer than the parts wanted"),
        (replace(READY, delay_us=1.5), "ready: delay_us: 1.5"),
    ],
)
def test_what_does_not_fit_is_not_written(message: Message, words: str):
    with pytest.raises(UsageError, match=words):
        to_line(message, number=0, boot=1)


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("edge", ("5", "2101250")),
        ("edge", ("5", "2101250", "1", "1")),
        ("edge", ("5", "2101250", "2")),
        ("edge", ("05", "2101250", "1")),
        ("edge", ("4294967296", "2101250", "1")),
        ("edge", ("9" * 40, "2101250", "1")),
        ("edge", ("5.0", "2101250", "1")),
        ("greet", ("1",)),
        ("ok", ("65536", "0")),
        ("no", ("0", "0", "mood")),
        ("ready", ("3", "3", "0", "1", "1")),
        ("hello", ("0", "a", "1", "1", "bgls", "0", "0", "0")),
        ("hello", ("1", "a" * 11, "1", "1", "bgls", "0", "0", "0")),
        ("hello", ("1", "a", "1", "1", "gbls", "0", "0", "0")),
        ("hello", ("1", "a", "1", "1", "bgl", "0", "0", "0")),
        ("juggle", ()),
    ],
)
def test_what_does_not_fit_is_not_read(kind: str, fields: tuple[str, ...]):
    assert from_line(Line(number=0, boot=1, kind=kind, fields=fields)) is None


def test_fields_stand_in_the_order_of_the_class():
    line = to_line(EDGE, number=1, boot=2)
    assert line == Line(number=1, boot=2, kind="edge", fields=("5", "2101250", "1"))
    assert to_line(Greet(), number=1, boot=0).fields == ()


@pytest.mark.parametrize(
    ("has", "letters"),
    [
        (Has(True, True, True, True), "bgls"),
        (Has(True, False, False, False), "b000"),
        (Has(False, True, False, True), "0g0s"),
    ],
)
def test_what_is_fitted_is_a_letter_each(has: Has, letters: str):
    assert Fitted().write(has) == letters
    assert Fitted().read(letters) == has


@pytest.mark.parametrize("rule", [Flag(), Name(3), OneOf(State), Fitted(), Whole(0, 9)])
def test_no_rule_writes_what_it_is_not_for(rule: Any):
    assert rule.write(None) is None
    assert rule.write("AB CD") is None


def test_values_of_one_kind_are_equal():
    assert Ok(line=1, t_us=2) == Ok(line=1, t_us=2) != Ok(line=1, t_us=3)
    assert isinstance(Hello.KIND, str)
