"""``viscount pack``, as other programs call it; and what a person's keys mean."""

import json
import os
import re
import subprocess
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
from commands import call, started
from pouring_camera import Magazine
from pty_boards import PtyBoard

from viscount.cli.pack_text import keys_of, status_of, totals_json, totals_text
from viscount.cli.packing import heard
from viscount.errors import ExitStatus
from viscount.packing.events import HandCount, Said, Word
from viscount.packing.machine import Phase
from viscount.packing.order import BagBy, PackOrder
from viscount.packing.record import BagRecord, Result
from viscount.packing.totals import Totals
from viscount.session.journal import read_journal
from viscount.session.messages import Packing
from viscount.session.plan import LivePlan
from viscount.testing.board import BoardSettings

OUTLET = """
view: {line_px: 80, scale_px_per_mm: 4.0, lip_px: -16.0}
motion: {kind: belt, speed_mm_s: 375.0, speed_tolerance_percent: 2.0}
beam: {below_lip_mm: 34.0, width_mm: 1.0}
gate: {below_lip_mm: 60.0}
part: {name: plate}
"""
STROKES = "direction,begins_ms,done_ms\nshut,8,12\nshut,14,18\n"


@pytest.fixture
def words(tmp_path: Path) -> list[object]:
    (tmp_path / "outlet.yaml").write_text(OUTLET, encoding="utf-8")
    (tmp_path / "strokes.csv").write_text(STROKES, encoding="utf-8")
    return [
        *("pack", 0, "--outlet", tmp_path / "outlet.yaml", "--strokes", tmp_path / "strokes.csv"),
        *("--each", 6, "--bags", 3, "--delay-ms", 88, "--journal", tmp_path / "bags.jsonl"),
    ]


def test_a_dry_run_says_what_it_would_do(words: list[object], tmp_path: Path) -> None:
    answer = call(*words, "--dry-run", "--early", 1)
    assert answer.status == ExitStatus.CLEAN, answer.err
    assert "would pack 3 bags of 6 plate, beginning with bag 1" in answer.out
    assert "command 88 ms after the head edge of part 5" in answer.out
    assert "coil off when this computer is gone: by the board" in answer.out
    assert answer.out.endswith("dry run: no port was opened, nothing moved\n")
    assert not (tmp_path / "bags.jsonl").exists()


def test_a_dry_run_says_who_says_that_a_bag_is_in_place(words: list[object]) -> None:
    for more, who in ((), "Enter"), (("--bag-by", "board"), "a press of the board's switch"):
        assert f"would wait for {who} before each bag" in call(*words, *more, "--dry-run").out
    told = json.loads(call(*words, "--bag-by", "board", "--dry-run", "--json").out)
    assert told["order"]["bag_by"] == "board"


def test_keys_are_told_and_where_the_switch_is_not_what_to_beware_of() -> None:
    order = PackOrder(each=6, bags=1, below_blade=True)
    assert keys_of(order).startswith("Enter: bag in place | a: set aside")
    by_switch = keys_of(replace(order, bag_by=BagBy.BOARD))
    assert "take your hands out of outlet and\ngate first" in by_switch
    assert by_switch.endswith("the board's switch: bag in place | " + keys_of(order)[22:])


def test_a_dry_run_for_programs(words: list[object]) -> None:
    told = json.loads(call(*words, "--dry-run", "--json").out)
    assert (told["schema"], told["kind"]) == ("viscount.pack/1", "dry_run")
    assert told["order"]["delay_us"] == 88_000
    # 26 mm at 375 mm/s, give or take 2 %.
    way = told["order"]["way"]
    assert way["least_us"] == pytest.approx(1e6 * 26 / (1.02 * 375), abs=2)
    assert way["most_us"] == pytest.approx(1e6 * 26 / (0.98 * 375), abs=2)
    assert (way["reach_us"], way["shut_us"]) == (8000, 18001)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ((), "packing without the beam's board"),
        (("--dry-run", "--early", "6"), "--early 6 with 6 parts in a bag"),
        (("--dry-run", "--set", "gate.name=sereal"), "there is no gate trigger 'sereal', nearest"),
        (("--dry-run", "--set", "gate.below_lip_mm=20"), "the beam above the blade"),
        (("--dry-run", "--journal", "no/such/bags.jsonl"), "the folder is missing"),
        (("--beam-port", "usb:1"), "a port named 'usb:1'"),
        (("--dry-run", "--bag-by", "pedal"), "--bag-by pedal; allowed: enter or board"),
    ],
)
def test_a_bad_call_is_said(words: list[object], more: tuple[str, ...], said: str) -> None:
    answer = call(*words, *more)
    assert answer.status == ExitStatus.BAD_INPUT
    assert said in answer.err
    assert "Traceback" not in answer.err
    assert answer.out == ""


def test_where_no_bag_could_be_good_it_does_not_begin(words: list[object], tmp_path: Path) -> None:
    at = words.index("--strokes")
    answer = call(*words[:at], *words[at + 2 :], "--dry-run")
    assert answer.status == ExitStatus.BAD_INPUT
    assert "nothing tells which parts get past the blade" in answer.err


def test_another_part_begins_with_a_check_pour(words: list[object], tmp_path: Path) -> None:
    line = {
        **{"schema": "viscount.pack/1", "kind": "bag", "bag": 7, "pours": 1, "result": "good"},
        **{"wanted": 6, "in_bag": 6, "held": 0, "beam": 6, "camera": 6, "reasons": []},
        **{"part": "plate", "by_hand": None},
    }
    journal = tmp_path / "bags.jsonl"
    journal.write_text(json.dumps(line) + "\n" + '{"half', encoding="utf-8")
    answer = call(*words, "--dry-run")
    assert "would pack 2 bags of 6 plate, beginning with bag 8" in answer.out
    assert "check pour" not in answer.out
    answer = call(*words, "--dry-run", "--set", "part.name=nut")
    assert "would begin with a check pour of 6, counted by hand" in answer.out
    assert journal.read_text(encoding="utf-8").endswith('{"half')


def at(phase: str, bag: int = 4) -> Packing:
    return Packing(
        says=(),
        record=None,
        phase=phase,
        gate="idle",
        bag=bag,
        in_bag=0,
        wanted=6,
        held=0,
        totals=Totals(),
        ended=False,
    )


@pytest.mark.parametrize(
    ("line", "phase", "meant"),
    [
        ("", Phase.WAITING, Said(word=Word.BAG, bag=4)),
        ("", Phase.ATTENTION, None),
        ("", "pouring", None),
        ("", Phase.HAND, None),
        ("a", Phase.ATTENTION, Said(word=Word.ASIDE, bag=4)),
        ("aside", Phase.ATTENTION, Said(word=Word.ASIDE, bag=4)),
        ("t", Phase.ATTENTION, Said(word=Word.TOP_UP, bag=4)),
        ("q", "pouring", Said(word=Word.STOP)),
        ("p", "pouring", Said(word=Word.PAUSE)),
        ("6", Phase.HAND, HandCount(count=6)),
        ("6", Phase.WAITING, None),
        ("what?", Phase.WAITING, None),
    ],
)
def test_a_key_means_what_is_asked_for_and_nothing_else(
    line: str, phase: str, meant: object
) -> None:
    assert heard(line, at(phase)) == meant
    assert heard(line, None) is None


def test_the_line_says_how_it_stands() -> None:
    assert status_of(at("pouring")) == (
        "bag 4: pouring | in the bag 0 / wanted 6 / held 0 | told: coil off | 0 good so far"
    )


def test_the_totals_count_each_bag_once(tmp_path: Path) -> None:
    totals = Totals(packed=2)
    short = BagRecord(
        bag=3,
        pours=1,
        result=Result.SHORT,
        wanted=6,
        in_bag=4,
        held=0,
        beam=4,
        camera=4,
        reasons=("the magazine is empty",),
        part="plate",
    )
    good = BagRecord(
        bag=3,
        pours=2,
        result=Result.GOOD,
        wanted=6,
        in_bag=6,
        held=0,
        beam=2,
        camera=2,
        reasons=(),
        part="plate",
    )
    for record in (short, good):
        totals.take(record)
    order = PackOrder(each=6, bags=40, below_blade=True, packed=2)
    text = totals_text(totals, order, "bags.jsonl")
    assert text.startswith("1 bag in this run: 1 good\n3 of 40 good bags of 6; 6 parts packed")
    assert "No command, window or status of this program means that the coil is off" in text
    plan = LivePlan(source="0", pack=order, journal=tmp_path / "bags.jsonl")
    told = json.loads(totals_json(totals, [short, good], plan))
    assert (told["good_before"], told["good"], told["bags"]) == (2, 3, 1)
    assert told["results"] == {"good": 1, "short": 0, "over": 0, "unsure": 0, "pinched": 0}
    assert [one["result"] for one in told["records"]] == ["short", "good"]


PLUGIN = """
from pathlib import Path
from pouring_camera import HeadsFileCamera
from viscount.hooks.specs import hookimpl
from viscount.seams import Entry, Options

class NoOptions(Options):
    pass

@hookimpl
def viscount_cameras():
    def make(options, aim):
        return HeadsFileCamera(Path(aim.address))
    return [Entry(api=1, name="heads", summary="parts of a file", options=NoOptions, make=make)]
"""


def test_bags_from_the_command_line_to_the_board_and_back(
    words: list[object], tmp_path: Path
) -> None:
    """Two bags of three: processes, a pseudo-terminal, a board, parts, and somebody at the keys."""
    (tmp_path / "heads_camera.py").write_text(PLUGIN, encoding="utf-8")
    info = tmp_path / "heads_camera-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Name: heads-camera\nVersion: 1.0\n", encoding="utf-8")
    points = "[viscount]\nheads = heads_camera\n"
    (info / "entry_points.txt").write_text(points, encoding="utf-8")
    heads = tmp_path / "heads.txt"
    heads.write_text("", encoding="utf-8")
    words[1] = f"heads:{heads}"
    words[words.index("--each") + 1], words[words.index("--bags") + 1] = 3, 2
    tests = str(Path(__file__).parents[1])
    paths = [str(tmp_path), tests, str(Path(tests).parent), os.environ.get("PYTHONPATH", "")]
    ended = threading.Event()
    with PtyBoard(BoardSettings(duty_percent=100)) as board:
        magazine = Magazine(board, 50)

        def pours() -> None:
            written = 0
            while not ended.wait(0.004):
                magazine.tend(time.monotonic_ns())
                if len(magazine.heads) > written:
                    written = len(magazine.heads)
                    text = "".join(f"{head}\n" for head in magazine.heads)
                    heads.with_suffix(".new").write_text(text, encoding="utf-8")
                    heads.with_suffix(".new").replace(heads)

        pouring = threading.Thread(target=pours)
        pouring.start()
        process = started(
            *(*words, "--beam-port", board.name, "--check-pour", 2),
            stdin=subprocess.PIPE,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, paths))},
        )
        assert process.stdin is not None
        assert process.stdout is not None
        shown = []
        for line in process.stdout:
            shown.append(line)
            if "put a" in line:
                process.stdin.write("\n")
            elif "by hand" in line:
                process.stdin.write("2\n")
            elif line.startswith("set "):
                process.stdin.write("q\n")
            process.stdin.flush()
        _, err = process.communicate(timeout=20)
        ended.set()
        pouring.join()
        text = "".join(shown)
        assert process.returncode == ExitStatus.CLEAN, text + err
        assert not board.board.coil_log[-1].on
        assert sum(one.on for one in board.board.coil_log) == 3
    # Where this process is late, the magazine lets the next part go too late to be held.
    assert re.search(r"check pour: good \(in the bag 2 / wanted 2 / held [01]\)", text), text
    assert re.search(r"bag 2: good \(in the bag 3 / wanted 3 / held [01]\)", text), text
    assert "2 of 2 good bags of 3; 6 parts packed in this run" in text
    records = read_journal(tmp_path / "bags.jsonl").records
    assert [(one.bag, one.in_bag, one.by_hand) for one in records] == [
        (0, 2, 2),
        (1, 3, None),
        (2, 3, None),
    ]
