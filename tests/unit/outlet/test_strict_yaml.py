"""What plain scalars mean, and what is refused because readers of YAML disagree on it.

The traps are those of the YAML 1.1 type repository (int: base 60, base 8, underscores; float:
.inf and .nan; bool: yes, no, on, off) and of YAML 1.2's core schema (0o17); from memory.
"""

import json
import re

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from viscount.outlet.strict_yaml import DEEPEST, dump, parse, plain_scalar

SEEDED = settings(derandomize=True, database=None, deadline=None)
PRINTED = st.text(min_size=1, max_size=8).filter(str.isprintable)
# Letters that YAML takes for line ends, and others that an unquoted or folded text would lose.
ODD = st.text(alphabet="a \t\n\r\x1f\x85\xa0\u2028\ufeff:#'\"", max_size=5)
SCALARS = ODD | st.none() | st.booleans() | st.integers(-(10**30), 10**30) | st.text(max_size=12)
SCALARS |= st.floats(allow_nan=False, allow_infinity=False)
SCALARS |= st.from_regex(r"[-+]?0?[xob]?[0-9.:_]{1,6}(e[0-9])?", fullmatch=True)
SCALARS |= st.sampled_from(
    ["yes", "No", "on", "OFF", "~", "null", ".nan", "-.INF", "true", "=", "<<"]
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(ODD.filter(bool) | st.text(min_size=1, max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("180", 180),
        ("-12", -12),
        ("+5", 5),
        ("0", 0),
        ("1e3", 1000.0),
        ("1E-3", 0.001),
        ("2.5e+2", 250.0),
        ("4.", 4.0),
        (".5", 0.5),
        ("0.5", 0.5),
        ("true", True),
        ("FALSE", False),
        ("null", None),
        ("~", None),
        ("", None),
        ("y", "y"),
        ("2024-01-01", "2024-01-01"),
        ("M4x12", "M4x12"),
        ("1e", "1e"),
        ("4,5", "4,5"),
        ("nan", "nan"),
    ],
)
def test_plain_scalar(text: str, value: object) -> None:
    read = plain_scalar(text)
    assert read == value
    assert type(read) is type(value)


def test_pyyaml_alone_reads_the_traps_otherwise() -> None:
    """The traps are real: this is what would flow on without this module."""
    traps = yaml.safe_load("[12:30, 017, 1e3, on, 1_000, .nan]")
    assert traps[:5] == [750, 15, "1e3", True, 1000]
    assert traps[5] != traps[5]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("12:30", "base 60"),
        ("1:20:30.5", "base 60"),
        ("on", "switch"),
        ("Off", "switch"),
        ("YES", "switch"),
        ("no", "switch"),
        (".nan", "finite"),
        ("-.inf", "finite"),
        (".Inf", "finite"),
        ("017", "base 8"),
        ("-007", "base 8"),
        ("01.5", "base 8"),
        ("0o17", "decimal"),
        ("0x1F", "decimal"),
        ("0b101", "decimal"),
        ("1_000", "underscore"),
        ("1_000.5", "underscore"),
        ("1e999", "larger"),
        ("9" * 5000, "larger"),
    ],
)
def test_trap_is_refused_in_words(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=re.escape(why)) as caught:
        plain_scalar(text)
    found, remedy = caught.value.args
    assert text[:40] in found
    assert remedy


@pytest.mark.parametrize("text", ["12:30", "on", "017", "1_000", "0x1F", ".nan", "180", "true"])
def test_quoted_is_text(text: str) -> None:
    assert parse(f"name: '{text}'").value == {"name": text}
    assert parse(f'name: "{text}"').value == {"name": text}


def test_keys_are_text() -> None:
    assert parse("on: 1\n12: 2\nnull: 3\n<<: 4").value == {"on": 1, "12": 2, "null": 3, "<<": 4}


def test_lines_of_keys_and_items() -> None:
    lines = parse("# remark\nview:\n  line_px: 3\n  region_px:\n    - 1\n    - 2\n").lines
    assert lines["view",] == 2
    assert lines["view", "line_px"] == 3
    assert lines["view", "region_px", 1] == 6


def test_all_mistakes_are_gathered_and_the_rest_is_read() -> None:
    document = parse("a: 12:30\nb: 4\nc: [1, 017]\nb: 5\n")
    assert document.value == {"b": 4}
    assert [(m.line, m.path) for m in document.mistakes] == [
        (1, ("a",)),
        (3, ("c", 1)),
        (4, ("b",)),
    ]


def test_repeated_key_names_both_places() -> None:
    (mistake,) = parse("view:\n  line_px: 1\n  lip_px: 2\n  line_px: 1\n").mistakes
    assert mistake.path == ("view", "line_px")
    assert "line 2 column 3" in mistake.found
    assert "line 4 column 3" in mistake.found


@pytest.mark.parametrize(
    ("text", "line", "found"),
    [
        ("a: 1\n\tb: 2\n", 2, "a tab"),
        ("a:\n  b:\t2\n", 2, "a tab"),
        ("a: 1\nb: 'x\nc: 2\n", 2, "quote that is never closed"),
        ('a: 1\nb: "x\nc: 2\n', 2, "quote that is never closed"),
        ("a: 1\nb: [1, 2\n", 2, "bracket that is never closed"),
        ("a: 1\nb: [1, 2\nc: 3\n", 2, "bracket that is not closed"),
        ("a: 1\n---\nb: 2\n", 2, "second document"),
        ("a: &x [1]\nb: *x\n", 1, "anchor (&) or alias (*)"),
        ("a: 1\nb: *.yaml\n", 2, "anchor (&) or alias (*)"),
        ("a: 1\nb: !!python/name:os.system x\n", 2, "a tag"),
        ("a: 1\nb: !x 3\n", 2, "a tag"),
        ("a:\n  b:1\n  c: 2\n", 3, "colon that fits nowhere"),
        ("a:\n    b: 1\n  c: 2\n", 3, "does not fit the lines above"),
        ("a: 1\nb\nc: 2\n", 3, "not `key: value`"),
        ("a: 1\nb: @x\n", 2, "'@'"),
        ("a: 1\nb: \x01\n", 2, "'\\x01'"),
        ("a: 1\n? [x, y]\n: 2\n", 2, "a key that is not a word"),
        ("a: 1\n?\n: 2\n", 2, "a key that is not a word"),
        ("a: 1\n'': 2\n", 2, "a key that is not a word"),
        ("[" * 100_000, 1, f"more than {DEEPEST} levels"),
        ("a: 1\nb: " + "{x: " * 100, 2, f"more than {DEEPEST} levels"),
    ],
)
def test_text_that_cannot_be_read(text: str, line: int, found: str) -> None:
    (mistake,) = parse(text).mistakes
    assert found in mistake.found
    assert mistake.line == line


def test_alias_bomb_is_refused_before_it_grows() -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 30)]
    (mistake,) = parse("\n".join(lines)).mistakes
    assert "alias" in mistake.found


@pytest.mark.parametrize("text", ["", "\n\n", "# only a remark\n", "---\n", "null\n"])
def test_nothing_is_none(text: str) -> None:
    document = parse(text)
    assert document.value is None
    assert document.mistakes == ()


@SEEDED
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats(-1e300, 1e300) | PRINTED,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(PRINTED, inner, max_size=3),
        max_leaves=8,
    )
)
def test_json_is_read_as_json_reads_it(value: object) -> None:
    """YAML 1.2 holds JSON (RFC 8259); the standard library's json is the peer."""
    assert repr(parse(json.dumps(value, ensure_ascii=False)).value) == repr(value)


@SEEDED
@given(VALUES)
def test_dump_reads_back_as_the_same(value: object) -> None:
    document = parse(dump(value))
    assert document.mistakes == ()
    assert document.value == value
    assert repr(document.value) == repr(value)


@SEEDED
@given(st.text(alphabet="ab:-?[]{}#&*!|>'\"%@`, \n\t01_.~<=\\", max_size=40))
def test_any_text_gives_a_value_or_mistakes_and_never_raises(text: str) -> None:
    document = parse(text)
    assert all(m.found for m in document.mistakes)
    assert all(m.line is not None and m.line >= 1 for m in document.mistakes)
