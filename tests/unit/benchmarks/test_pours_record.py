"""The file of many pours: begun, left, taken up again, or refused."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from benchmarks import bench_pours
from benchmarks.bench_pours import main, opened
from benchmarks.pours import record
from benchmarks.pours.pour import Pour

from viscount.errors import UsageError

Run = Callable[..., int]


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "kept" / "pours.jsonl"


@pytest.fixture
def asked(pour, monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The seeds that were poured; nothing is simulated, and they are finished backwards."""
    seeds: list[int] = []

    def backwards(_work: object, items: Iterator[int], _lanes: int) -> Iterator[tuple[int, str]]:
        for seed in reversed(list(items)):
            seeds.append(seed)
            yield seed, pour(seed).line()

    monkeypatch.setattr(bench_pours, "side_by_side", backwards)
    return seeds


def test_a_run_is_kept_pour_by_pour(out: Path, asked: list[int], capsys) -> None:
    assert main(["--pours", "3", "--seed", "70", "--out", str(out), "--json"]) == 0
    head, *lines = out.read_text(encoding="utf-8").splitlines()
    assert json.loads(head)["seed"] == 70
    assert [json.loads(line)["seed"] for line in lines] == asked == [72, 71, 70]
    printed = json.loads(capsys.readouterr().out)
    assert (printed["seed"], printed["pours"], printed["done"]) == (70, 3, 3)
    assert printed["modes"]["bare"]["outcomes"]["separable"]["clean, exact"]["number"] == 3


def test_each_pour_is_in_the_file_before_the_next_is_done(
    out: Path, pour, monkeypatch: pytest.MonkeyPatch
) -> None:
    lengths = []

    def one_by_one(_work: object, items: Iterator[int], _lanes: int) -> Iterator[tuple[int, str]]:
        for seed in items:
            lengths.append(len(out.read_text(encoding="utf-8").splitlines()))
            yield seed, pour(seed).line()

    monkeypatch.setattr(bench_pours, "side_by_side", one_by_one)
    assert main(["--pours", "3", "--out", str(out)]) == 0
    assert lengths == [1, 2, 3]


def test_what_is_missing_is_done_in_later_calls(out: Path, asked: list[int]) -> None:
    assert main(["--pours", "5", "--seed", "70", "--out", str(out), "--at-most", "2"]) == 0
    assert asked == [71, 70]
    assert main(["--out", str(out), "--at-most", "2"]) == 0
    assert asked[2:] == [73, 72]
    assert main(["--out", str(out)]) == main(["--out", str(out)]) == 0
    assert asked[4:] == [74]


@pytest.mark.parametrize("kept", [1, 40, -1])
def test_a_half_written_last_line_is_done_again(
    out: Path, asked: list[int], kept: int, capsys
) -> None:
    main(["--pours", "3", "--seed", "70", "--out", str(out), "--json"])
    whole = out.read_bytes()
    printed = capsys.readouterr().out
    *lines, last = whole.splitlines(keepends=True)
    out.write_bytes(b"".join(lines) + last[:kept])
    assert main(["--out", str(out), "--json"]) == 0
    assert asked == [72, 71, 70, 70]
    assert out.read_bytes() == whole
    assert capsys.readouterr().out == printed


def another_space(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    space = tmp_path / "scene_space.yaml"
    space.write_bytes(record.SPACE.read_bytes() + b"\n")
    monkeypatch.setattr(record, "SPACE", space)


def another_source(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "judging.py").write_text("", encoding="utf-8")
    monkeypatch.setattr(record, "JUDGES", tmp_path)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (another_space, "the SHA-256 of scene_space.yaml is "),
        (another_source, "the SHA-256 of the source is "),
        (lambda m, _: m.setattr("cv2.__version__", "9.1"), "the major version of OpenCV is 9"),
        (lambda m, _: m.setattr("viscount.__version__", "9.9"), "the version of viscount is 9.9"),
        (lambda m, _: m.setattr(record, "_commit", lambda: "abc"), "the commit is abc, and was"),
    ],
)
def test_pours_that_rest_on_something_else_are_refused(
    out: Path, asked: list[int], change: Callable, words: str, tmp_path: Path, monkeypatch, capsys
) -> None:
    main(["--pours", "3", "--out", str(out), "--at-most", "1"])
    before = out.read_bytes()
    change(monkeypatch, tmp_path)
    assert main(["--out", str(out)]) == 2
    assert words in capsys.readouterr().err
    assert (out.read_bytes(), len(asked)) == (before, 1)


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        (["--seed", "8"], "the seed is 8, and was 7"),
        (["--pours", "4"], "the number of pours is 4, and was 3"),
    ],
)
def test_seed_and_number_stay(
    out: Path, asked: list[int], wanted: list[str], words: str, capsys
) -> None:
    begun = ["--pours", "3", "--seed", "7", "--out", str(out)]
    assert main([*begun, "--at-most", "1"]) == 0
    assert main(["--out", str(out), *wanted]) == 2
    assert words in capsys.readouterr().err
    assert main(begun) == 0
    assert len(asked) == 3


@pytest.mark.parametrize("text", ["", "a diary", "a diary\nof two lines", '{"seed": 1}\n', "3\n"])
def test_any_other_file_is_refused_and_left_as_it_is(out: Path, text: str) -> None:
    out.parent.mkdir()
    out.write_text(text, encoding="utf-8")
    with pytest.raises(UsageError, match="not a record of pours"):
        opened(out, None, None)
    assert out.read_text(encoding="utf-8") == text


@pytest.mark.parametrize(
    "line",
    [
        "",
        "{}",
        '{"seed": 72, "seconds": 1.0, "judged": [], "broken": null}',
        Pour(seed=69, seconds=1.0, broken="of another run").line(),
        Pour(seed=71, seconds=1.0, broken="twice").line(),
    ],
)
def test_a_line_that_is_no_pour_of_the_run_is_refused(
    out: Path, asked: list[int], line: str
) -> None:
    main(["--pours", "3", "--seed", "70", "--out", str(out), "--at-most", "2"])
    with out.open("a", encoding="utf-8") as file:
        file.write(line + "\n")
    with pytest.raises(UsageError, match=r"line 4: holds no pour of this run"):
        opened(out, None, None)


def test_a_seed_that_nobody_gave_is_new_each_time(tmp_path: Path) -> None:
    heads = [opened(tmp_path / f"{k}.jsonl", None, None)[0] for k in range(3)]
    assert len({head.seed for head in heads}) == 3
    assert {head.pours for head in heads} == {2000}
    assert [p.name for p in sorted(tmp_path.iterdir())] == ["0.jsonl", "1.jsonl", "2.jsonl"]


def test_the_seed_is_told_before_the_first_pour(asked: list[int], capsys) -> None:
    assert main(["--pours", "2", "--seed", "5"]) == 0
    assert "seed 5: 0 of 2 pours done" in capsys.readouterr().err


def test_a_broken_pour_and_a_dead_process_are_kept(
    out: Path, pour, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    broken = Pour(seed=71, seconds=0.1, broken="ZeroDivisionError: division by zero").line()
    told = {70: pour(70).line(), 71: broken, 72: None}
    monkeypatch.setattr(
        bench_pours, "side_by_side", lambda _work, items, _lanes: ((k, told[k]) for k in items)
    )
    words = ["--pours", "3", "--seed", "70", "--out", str(out), "--json"]
    assert main(words) == main(words) == 1
    found = capsys.readouterr()
    first, second = (json.loads(line) for line in found.out.splitlines())
    assert first == second
    assert first["broken"] == {
        "71": "ZeroDivisionError: division by zero",
        "72": "its process died",
    }
    assert first["done"] == 3
    assert "2 broke: seeds 71, 72" in found.err
