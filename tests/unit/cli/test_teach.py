"""``viscount teach`` from files to a part file, and what it refuses before and after."""

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from commands import call
from lessons import BEAM, dropped, outlet_of

from viscount.cli.teaching import write_part
from viscount.errors import UsageError
from viscount.outlet import Part, as_yaml, load_part
from viscount.simulate.pour import write_pour


@pytest.fixture(scope="module")
def pour(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twenty nuts, one by one, past camera and beam; with an outlet file that names no part."""
    folder = tmp_path_factory.mktemp("nuts")
    scene = dropped("ISO 4032 M4", count=20, interval_ms=110.0, scale=3.0, beam=BEAM)
    write_pour(scene, folder)
    (folder / "outlet.yaml").write_text(as_yaml(outlet_of(scene)), encoding="utf-8")
    return folder


def teach(pour: Path, out: Path, *more: object) -> Any:
    return call("teach", pour / "clip.mp4", "--outlet", pour / "outlet.yaml", "--out", out, *more)


def test_it_writes_a_part_file_that_a_count_uses(pour: Path, tmp_path: Path) -> None:
    base, out = tmp_path / "base.yaml", tmp_path / "part.yaml"
    base.write_text("name: old\nshape: nut\ndiameter_mm: 7.0\n", encoding="utf-8")
    beam = ("--beam", pour / "beam.csv")
    told = teach(pour, out, "--part", base, "--name", "M4 nut", "--count", 20, *beam, "--json")
    assert (told.status, told.err) == (0, "")
    answer = json.loads(told.out)
    assert answer["schema"] == "viscount.teach/1"
    assert answer["clips"] == [{"source": str(pour / "clip.mp4"), "parts": 20}]
    assert answer["warnings"] == []
    part = load_part(out)
    assert (part.name, part.diameter_mm) == ("M4 nut", 7.0)
    assert answer["part"] == yaml.safe_load(out.read_text(encoding="utf-8"))
    assert part.taught is not None
    assert part.taught.singles == 20
    assert part.taught.beam is not None
    assert part.taught.beam.one_pulse.parts == 20
    assert [file.name for file in tmp_path.iterdir() if "partial" in file.name] == []

    counted = call("count", pour / "clip.mp4", "--outlet", pour / "outlet.yaml", "--part", out)
    assert counted.out.startswith("20 parts through the line: clean")

    again = teach(pour, out, "--name", "M4 nut")
    assert again.status == 2
    assert "the file is there already; take another name, or write over it with --force" in (
        again.err
    )


def test_it_says_what_it_learned(pour: Path, tmp_path: Path) -> None:
    out = tmp_path / "part.yaml"
    out.write_text("name: something else\n", encoding="utf-8")
    told = teach(pour, out, "--name", "M4 nut", "--force", "--set", "view.scale_px_per_mm=null")
    assert told.status == 0
    head, *lines = told.out.splitlines()
    assert head == f"{out}: M4 nut, taught by 20 single parts"
    labels = [line.split()[0] for line in lines]
    assert labels[:2] == ["length", "area"]
    assert "no scale is known" in told.out
    taught = load_part(out).taught
    assert taught is not None
    assert taught.unit == "px"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--name", "M4 nut", "--count", 21), "--count 21: the clips show 20 parts"),
        ((), "--name: a part without a name"),
        (("--name", "two\nlines"), "--name: the name 'two"),
        (("--name", "M4 nut", "--beam", "a.csv", "--beam", "b.csv"), "2 beam logs for 1 clips"),
        (("--name", "M4 nut", "--beam", "none.csv"), "none.csv: the beam log cannot be read"),
        (("--name", "M4 nut", "--part", "none.yaml"), "none.yaml: there is no such file"),
    ],
    ids=["another number", "no name", "no such name", "logs", "no log", "no base"],
)
def test_it_refuses_and_writes_nothing(
    pour: Path, tmp_path: Path, more: tuple[object, ...], said: str
) -> None:
    told = teach(pour, tmp_path / "part.yaml", *more)
    assert told.status == 2
    assert said in told.err
    assert "Traceback" not in told.err
    assert list(tmp_path.iterdir()) == []


def test_it_refuses_places_before_it_follows_any_clip(tmp_path: Path) -> None:
    for out, said in ((tmp_path, "a folder"), (tmp_path / "no" / "p.yaml", "there is no folder")):
        told = call("teach", "no-such-clip.mp4", "--name", "x", "--out", out)
        assert (told.status, said in told.err) == (2, True)
    there = tmp_path / "part.yaml"
    there.write_text("name: old", encoding="utf-8")
    told = call("teach", "no-such-clip.mp4", "--name", "x", "--out", there)
    assert "the file is there already" in told.err
    told = call("teach", "no-such-clip.mp4", "--name", "x")
    assert "--out: nowhere to write the part file" in told.err


def test_a_beam_whose_place_is_unknown_is_refused(pour: Path, tmp_path: Path) -> None:
    lost = tmp_path / "lost.yaml"
    outlet = yaml.safe_load((pour / "outlet.yaml").read_text(encoding="utf-8"))
    del outlet["beam"]
    lost.write_text(yaml.safe_dump(outlet), encoding="utf-8")
    told = call(
        *("teach", pour / "clip.mp4", "--outlet", lost, "--name", "M4 nut"),
        *("--beam", pour / "beam.csv", "--out", tmp_path / "part.yaml"),
    )
    assert told.status == 2
    assert "the place of the beam is not known" in told.err


def test_a_log_with_coarse_times_is_refused(pour: Path, tmp_path: Path) -> None:
    coarse = tmp_path / "coarse.csv"
    coarse.write_text("time_s,blocked\n0.000,0\n0.500,1\n0.505,0\n", encoding="utf-8")
    told = teach(pour, tmp_path / "part.yaml", "--name", "M4 nut", "--beam", coarse)
    assert told.status == 2
    assert "coarse.csv: times have 3 decimals of a second" in told.err


def test_a_write_that_fails_leaves_the_old_file_and_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "part.yaml"
    out.write_text("name: old\n", encoding="utf-8")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(UsageError, match="No space left"):
        write_part(out, Part(name="new"), force=True)
    assert [(f.name, f.read_text(encoding="utf-8")) for f in tmp_path.iterdir()] == [
        ("part.yaml", "name: old\n")
    ]
