"""Bad input through the real command: one clear message, exit status 2, nothing else."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from commands import FIXTURES, call, called

CLIP = FIXTURES / "washers" / "clip.mp4"


def sound_only(path: Path) -> None:
    """Write a tenth of a second of silence."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("aac", rate=44100)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 4410), np.float32), "fltp", "mono")
        frame.sample_rate = 44100
        frame.time_base = Fraction(1, 44100)
        frame.pts = 0
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            container.mux(packet)


def no_frames(path: Path) -> None:
    """Write a clip that states a video stream and holds no picture."""
    with av.open(str(path), "w", format="mp4", options={"movflags": "empty_moov"}) as container:
        stream = container.add_stream("mpeg4", rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        container.start_encoding()


def refused(*words: object) -> str:
    """Call the program in this process; return its one message."""
    answer = call(*words)
    assert answer.status == 2, answer
    assert answer.out == ""
    assert "Traceback" not in answer.err
    return answer.err


def one_line(*words: object) -> str:
    message = refused(*words)
    assert message.startswith("viscount: ")
    assert message.count("\n") == 1
    return message.rstrip("\n")


SOURCES: dict[str, tuple[Callable[[Path], object] | None, str]] = {
    "none.mp4": (None, "there is no such file"),
    "folder": (Path.mkdir, "the folder holds no pictures"),
    "text.mp4": (lambda p: p.write_text("not a clip\n" * 50, encoding="utf-8"), "no recording"),
    "empty.mp4": (lambda p: p.write_bytes(b""), "the file is empty"),
    "still.png": (lambda p: p.write_bytes(b"\x89PNG\r\n\x1a\nno"), "could be decoded"),
    "frameless.mp4": (no_frames, "not one picture could be decoded"),
    "sound.m4a": (sound_only, "holds sound only"),
}


@pytest.mark.parametrize("form", [(), ("--json",)])
@pytest.mark.parametrize("name", SOURCES)
def test_sources(name: str, form: tuple[str, ...], tmp_path: Path) -> None:
    make, words = SOURCES[name]
    path = tmp_path / name
    if make is not None:
        make(path)
    message = one_line("count", path, *form)
    assert str(path) in message
    assert words in message


def test_an_unreadable_source_is_told_apart_from_a_missing_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Permission bits do not stop the superuser, so the refusal is made here."""
    path = tmp_path / "clip.mp4"
    path.write_bytes(CLIP.read_bytes())

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    assert "permission" in one_line("count", path)


@pytest.mark.parametrize("option", ["--outlet", "--part"])
def test_missing_files(option: str, tmp_path: Path) -> None:
    message = one_line("count", CLIP, option, tmp_path / "none.yaml")
    assert "none.yaml: there is no such file" in message


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("view:\n  line_pix: 3\n", ":2: view.line_pix", "did you mean view.line_px?"),
        ("vew: {line_px: 3}\n", ":1: vew", "did you mean view?"),
        ("view:\n  line_px: 180mm\n", ":2: view.line_px", "line_px is in px"),
        ("camera: {exposure_us: 0.1ms}\n", ":1: camera.exposure_us", "is in µs"),
        ("view:\n  falls: on\n", ":2: view.falls", "on is a switch"),
        ("view:\n  line_px: 12:30\n", ":2: view.line_px", "12:30 reads as a time"),
        ("view:\n\tline_px: 3\n", ":2", "a tab"),
        ("view:\n  line_px: 3\n  line_px: 3\n", ":3: view.line_px", "given twice"),
        ("view: [\n", ":", ""),
        ("- view\n", ":1", "allowed: the keys view"),
        ("beam: {width_mm: 2}\n", ":1: beam", "exactly one of"),
        ("view: {line_px: 500}\n", ": view.line_px", "line outside the picture: 500"),
        ("view: {region_px: [0, 0, 999, 9]}\n", ": view.region_px", "sticks out of the picture"),
        ("detector: {name: differnce}\n", ": detector.name", "nearest known is 'difference'"),
        ("detector: {options: {min_aria_px: 3}}\n", ": detector.options.min_aria_px", "unknown"),
    ],
)
def test_outlet_files(text: str, place: str, words: str, tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text(text, encoding="utf-8")
    message = one_line("count", CLIP, "--outlet", file)
    assert message.startswith(f"viscount: {file}{place}")
    assert words in message


def test_a_number_in_powers_of_ten_is_a_number(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text("motion: {kind: belt, speed_mm_s: 1e3}\n", encoding="utf-8")
    answer = call("outlet", "check", file)
    assert (answer.status, answer.err) == (0, "")
    assert "motion.speed_mm_s = 1000 mm/s" in answer.out


def test_several_mistakes_are_told_at_once_each_on_its_line(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text("view:\n  line_pix: 3\n  falls: dwon\n", encoding="utf-8")
    for command in ("count", CLIP, "--outlet", file), ("outlet", "check", file):
        first, *rest = refused(*command).splitlines()
        assert first == "viscount: 2 mistakes"
        assert [line.split(": ")[0] for line in rest] == [f"{file}:2", f"{file}:3"]


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (("--set", "view.line_pix=3"), "did you mean view.line_px?"),
        (("--set", "view.line_px"), "no equals sign"),
        (("--set", "view.line_px=12:30"), "12:30"),
        (("--set", "view.line_px=500"), "line outside the picture: 500"),
        (("--set", "detector.name=sobel"), "there is no detector 'sobel'"),
        (("--expect", "-3"), "an expected count of -3; allowed: 0 or more"),
        (("--quiet", "0"), "a quiet time of 0 s; allowed: more than 0 s"),
        (("--quiet", "nan"), "a quiet time of nan s"),
        (("--quiet", "inf"), "a quiet time of inf s"),
        (("--strip", "nowhere/strip.png"), "there is no folder nowhere"),
        (("--strip", "strip.jpg"), "allowed: a name ending in .png"),
    ],
)
def test_options(words: tuple[str, ...], found: str) -> None:
    assert found in one_line("count", CLIP, *words)


@pytest.mark.parametrize(
    "words",
    [
        ("count",),
        ("count", CLIP, "another.mp4"),
        ("count", CLIP, "--expect", "many"),
        ("count", CLIP, "--quiet", "a while"),
        ("count", CLIP, "--outlit", "outlet.yaml"),
        ("recount", CLIP),
        ("plugins", "check", "difference", "--lead-in", "0"),
    ],
)
def test_calls_that_do_not_fit(words: tuple[object, ...]) -> None:
    message = refused(*words)
    assert message.startswith("Usage: viscount")
    assert "Error: " in message


def test_a_strip_among_the_pictures_that_are_counted(tmp_path: Path) -> None:
    message = one_line("count", tmp_path, "--strip", tmp_path / "strip.png")
    assert "among the pictures" in message
    message = one_line("count", tmp_path / "a.png", "--strip", tmp_path / "." / "a.png")
    assert "among the pictures" in message


def test_a_folder_where_the_strip_should_go(tmp_path: Path) -> None:
    (tmp_path / "strip.png").mkdir()
    assert "a folder" in one_line("count", CLIP, "--strip", tmp_path / "strip.png")


def test_a_log_that_cannot_be_written(tmp_path: Path) -> None:
    message = one_line("--log", tmp_path / "none" / "log.txt", "plugins")
    assert "the log cannot be written" in message


def test_the_program_as_a_process_of_its_own_does_the_same(tmp_path: Path) -> None:
    (tmp_path / "text.mp4").write_text("not a clip\n", encoding="utf-8")
    answer = called("count", "text.mp4", "--json", cwd=tmp_path)
    assert (answer.status, answer.out) == (2, "")
    assert answer.err.startswith("viscount: text.mp4: ")
    assert answer.err.count("\n") == 1


def test_control_characters_in_a_name_do_not_reach_the_terminal(tmp_path: Path) -> None:
    message = one_line("count", tmp_path / "a\x1b[31mb.mp4")
    assert "\x1b" not in message
    assert "a\\x1b[31mb.mp4" in message
