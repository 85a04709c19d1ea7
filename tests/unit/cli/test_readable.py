"""What people read of a tally, piped and on a terminal."""

import os
import re
from dataclasses import replace

import pytest
from commands import FIXTURES, call
from tallies import DOUBT, doubtful, invalid, passage, pour, tally

from viscount.cli.facts import facts, status_words
from viscount.cli.readable import as_text
from viscount.codes import Code
from viscount.tally import Assumption, FrameTally, Reason, SpacingTally, Tally
from viscount.values import Status

CODES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


def said(made: Tally) -> dict[str, list[str]]:
    """Facts by label."""
    found: dict[str, list[str]] = {}
    for fact in facts(made):
        found.setdefault(fact.label, []).append(fact.text)
    return found


def test_piped_the_count_comes_first_and_each_fact_on_one_line() -> None:
    first, *rest = as_text(tally(source="a " * 200)).splitlines()
    assert first == "3 parts through the line: clean"
    assert rest[0] == "range     3 to 3 (95 % confidence)"
    assert any(line.startswith("source    a a a") and len(line) > 400 for line in rest)


@pytest.mark.parametrize("force", [None, "1"])
def test_piped_there_are_no_colour_codes(
    force: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    if force is not None:
        monkeypatch.setenv("FORCE_COLOR", force)
    folder = FIXTURES / "washers"
    answer = call("count", folder / "clip.mp4", "--outlet", folder / "outlet.yaml")
    assert answer.out.startswith("10 parts through the line: clean\n")
    assert "\x1b" not in answer.out
    assert answer.err == ""


@pytest.mark.parametrize("columns", [50, 80, 140])
def test_on_a_terminal_it_is_large_coloured_and_fits(
    columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shutil.get_terminal_size", lambda _: os.terminal_size((columns, 24)))
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    folder = FIXTURES / "washers"
    answer = call(
        "count", folder / "clip.mp4", "--outlet", folder / "outlet.yaml", on_terminal=True
    )
    assert CODES.search(answer.out)
    lines = CODES.sub("", answer.out).splitlines()
    assert lines[0].rstrip() == "▀█  █▀█"
    assert lines[1].split("   ")[-1].strip() == "parts through the line"
    assert "clean" in lines[2]
    assert max(map(len, lines)) <= columns


def test_one_part_is_one_part() -> None:
    assert as_text(tally((0.5,))).startswith("1 part through the line: clean\n")


@pytest.mark.parametrize("made", [tally(), doubtful(), invalid()])
def test_status_is_told_in_words(made: Tally) -> None:
    assert status_words(made).startswith(made.status.value)


def test_each_reason_comes_with_what_to_do() -> None:
    lines = as_text(doubtful()).splitlines()
    place = lines.index(f"why       {DOUBT.text}")
    assert lines[place + 1] == f"          to do: {DOUBT.code.remedy}"


def test_what_to_do_is_not_told_twice() -> None:
    told = Reason(code=DOUBT.code, text=f"a gap; {DOUBT.code.remedy}")
    text = as_text(doubtful(reasons=(told,)))
    assert text.count(DOUBT.code.remedy) == 1
    assert "to do:" not in text


def test_notes_come_with_what_to_do_too() -> None:
    note = Reason(code=Code.NOTHING_SEEN, text="nothing moved")
    lines = as_text(tally((), notes=(note,))).splitlines()
    place = lines.index("note      nothing moved")
    assert lines[place + 1] == f"          to do: {note.code.remedy}"


def test_an_invalid_tally_shows_no_count_and_no_range() -> None:
    text = as_text(invalid(expected=3))
    assert text.startswith("invalid: ")
    assert "range" not in said(invalid())
    assert said(invalid())["seen"] == ["3 with the fall, 0 against it; not a result"]


def test_where_nothing_was_seen_no_range_is_told() -> None:
    """How many were too faint to be seen no count can bound."""
    unseen = Reason(code=Code.NOTHING_SEEN, text="nothing moved")
    assert "range" in said(doubtful())
    assert "range" not in said(doubtful(reasons=(unseen,)))


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (tally(expected=3), "3, as counted"),
        (tally(expected=5), "5; 2 missing"),
        (tally(expected=2), "2; 1 too many"),
        (doubtful(expected=3), "3; whether it is that many is not sure"),
        (doubtful(expected=9), "9; whether it is that many is not sure"),
        (invalid(expected=3), "3; whether it is that many is not sure"),
    ],
)
def test_expected(made: Tally, words: str) -> None:
    assert said(made)["expected"] == [words]


def test_pours_are_listed_where_there_are_several() -> None:
    assert "pours" not in said(tally())
    shaky = replace(pour(3.0, 3.25, 2), status=Status.DOUBTFUL, count_high=3)
    found = said(tally(pours=(pour(0.5, 0.55, 3), shaky)))["pours"]
    assert found == [
        "1: 3 parts, 3 to 3, clean; 0.500 to 0.550 s",
        "2: 2 parts, 2 to 3, doubtful; 3.000 to 3.250 s",
    ]


def test_frames_and_blind_times() -> None:
    frames = FrameTally(
        read=168,
        lost=7,
        repeated=1,
        damaged=0,
        rate_hz=119.999,
        blind=((0.1, 0.2), (1, 1.5), (2, 3), (4, 5), (6, 7)),
    )
    found = said(tally(frames=frames))
    assert found["frames"] == ["168 read at 120 frames a second; 7 lost, 1 repeated"]
    assert found["blind"] == [
        "for 3.600 s in all: 0.100 to 0.200 s, 1.000 to 1.500 s, 2.000 to 3.000 s and 2 more"
    ]
    assert said(tally())["frames"] == [
        "168 read at 120 frames a second; none lost, damaged or repeated"
    ]


def test_spacing_leaves_out_what_is_not_known() -> None:
    found = said(tally())
    assert "spacing" not in found
    assert found["interval"] == [
        "12.7 ms in the middle, 10.7 to 14.7; from part to part at the line"
    ]
    assert "interval" not in said(tally(spacing=None))
    nothing = SpacingTally(n=1, spacing_mm=None, interval_ms=None, gap_ms=None)
    assert "gap" not in said(tally(spacing=nothing))


def test_what_was_assumed_comes_with_its_value() -> None:
    assumed = (
        Assumption(code=Code.LINE_ASSUMED, text="the middle is used", value=79.5, unit="px"),
        Assumption(code=Code.FALLS_ASSUMED, text="down is used", value="down"),
        Assumption(code=Code.MOTION_ASSUMED, text="motion is learned"),
    )
    found = said(tally(assumed=assumed))["assumed"]
    assert found == ["the middle is used: 79.5 px", "down is used", "motion is learned"]


def test_who_gave_no_outlet_file_is_told_how_to_write_one() -> None:
    assert "viscount outlet new" not in as_text(tally())
    assert "viscount outlet new" in as_text(tally(outlet=None))


def test_where_the_line_is_and_what_that_means() -> None:
    assert "in the bag" in said(tally(counted_at="below_blade"))["line"][0]
    assert "may lie on the blade" in said(tally(counted_at="above_blade"))["line"][0]
    assert "line" not in said(tally())
    assert said(tally(in_bag=2, held=1))["held"] == ["1"]


def test_a_name_with_line_breaks_stays_on_its_line() -> None:
    lines = as_text(tally(source="a\nb\x1b[31m.mp4")).splitlines()
    assert "source    a b\\x1b[31m.mp4" in lines


def test_a_terminal_that_has_no_blocks_gets_plain_digits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("viscount.cli.readable.on_terminal", lambda: True)
    monkeypatch.setattr("viscount.cli.readable.can_show", lambda _: False)
    assert as_text(tally()).splitlines()[0].rstrip() == "3 parts through the line: clean"


@pytest.mark.parametrize("count", [0, 24, 1360987542, -3])
def test_any_number_can_be_large(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("viscount.cli.readable.on_terminal", lambda: True)
    rows = as_text(tally(passages=(passage(1, 0.5),), count=count)).splitlines()[:3]
    assert all(set("█▀▄") & set(row) for row in rows[:2])
