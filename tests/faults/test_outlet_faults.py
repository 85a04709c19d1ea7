"""Bad outlet and part files and settings: each is refused with place, allowed and remedy."""

from pathlib import Path

import pytest

from viscount.errors import ExitStatus, OutletError
from viscount.outlet import Outlet, load_outlet, load_part, outlet_with
from viscount.outlet.loading import LARGEST_BYTES


def _refused(folder: Path, text: str | bytes) -> OutletError:
    file = folder / "outlet.yaml"
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    with pytest.raises(OutletError) as caught:
        load_outlet(file)
    assert caught.value.exit_status is ExitStatus.BAD_INPUT
    return caught.value


@pytest.mark.parametrize(
    ("text", "place", "found", "remedy"),
    [
        # keys
        ("view:\n  line_pix: 3", "2: view.line_pix", "unknown key", "did you mean view.line_px?"),
        ("line_px: 3", "1: line_px", "unknown key", "did you mean view.line_px?"),
        ("view.line_px: 3", "1: view.line_px", "unknown key", "did you mean view.line_px?"),
        ("View: {}", "1: View", "unknown key", "did you mean view?"),
        ("camera:\n  line_px: 3", "2: camera.line_px", "unknown key", "view.line_px?"),
        ("view: {scale: 3}", "1: view.scale", "unknown key", "view.scale_px_per_mm?"),
        ("view: {line-px: 3}", "1: view.line-px", "unknown key", "view.line_px?"),
        ("view: {at_px: 3}", "1: view.at_px", "unknown key", "beam.at_px or gate.at_px?"),
        ("exposure_ms: 3", "1: exposure_ms", "unknown key", "camera.exposure_us?"),
        ("shape: nut", "1: shape", "unknown key", "did you mean part.shape?"),
        ("view: {qqq: 3}", "1: view.qqq", "unknown key", ""),
        ("view:\n  qqq:\n", "2: view.qqq", "unknown key", ""),
        (
            "view:\n  lip_px: 1\n  lip_px: 1",
            "3: view.lip_px",
            "line 2 column 3 and line 3 column 3",
            "keep one",
        ),
        ("beam: {at_px: 1}\nbeam: {at_px: 1}", "2: beam", "given twice", "keep one"),
        # numbers
        ("view:\n  line_px: 180mm", "2: view.line_px", "'180mm'", "line_px is in px: convert"),
        ("view: {scale_px_per_mm: 4 px/mm}", "1: view.scale_px_per_mm", "'4 px/mm'", "write 4:"),
        (
            'view: {scale_px_per_mm: "4 px/mm"}',
            "1: view.scale_px_per_mm",
            "'4 px/mm'",
            "write 4: the unit is in the key",
        ),
        ("camera: {exposure_us: 0.1ms}", "1: camera.exposure_us", "'0.1ms'", "is in µs: convert"),
        ("camera: {exposure_us: 100 us}", "1: camera.exposure_us", "'100 us'", "write 100:"),
        ("camera: {capture_fps: 240fps}", "1: camera.capture_fps", "'240fps'", "write 240:"),
        (
            "motion: {speed_tolerance_percent: 10%}",
            "1: motion.speed_tolerance_percent",
            "'10%'",
            "write 10:",
        ),
        (
            "motion: {acceleration_mm_s2: 9.81 m/s^2}",
            "1: motion.acceleration_mm_s2",
            "'9.81 m/s^2'",
            "is in mm/s²: convert",
        ),
        ("view: {line_px: '180'}", "1: view.line_px", "'180' (text)", "write 180 without quotes"),
        ("view:\n  line_px: 4,5", "2: view.line_px", "'4,5'", "write 4.5, with a point"),
        ("view: {line_px: 4,5}", "1: view.5", "unknown key", "with a point"),
        ("view: {line_px: true}", "1: view.line_px", "true", ""),
        ("view: {line_px: [1]}", "1: view.line_px", "the list [1]", ""),
        ("view: {line_px: on}", "1: view.line_px", "on is a switch", "true or false"),
        ("view: {line_px: 12:30}", "1: view.line_px", "12:30 reads as a time", "plain number"),
        ("view:\n  line_px: 017", "2: view.line_px", "017 begins with a zero", "leave the zero"),
        ("view: {line_px: 0o17}", "1: view.line_px", "0o17 is not a decimal", "decimal digits"),
        ("view: {line_px: .nan}", "1: view.line_px", ".nan is not a finite", "leave the key out"),
        ("view: {line_px: -.inf}", "1: view.line_px", "-.inf is not a finite", "leave the key"),
        ("view: {line_px: 1_000}", "1: view.line_px", "1_000 has an underscore", "leave the"),
        ("view: {scale_px_per_mm: 0}", "1: view.scale_px_per_mm", "0", ""),
        (
            "motion: {acceleration_mm_s2: 20001}",
            "1: motion.acceleration_mm_s2",
            "20001",
            "gravity is 9806.65",
        ),
        (
            "motion:\n  kind: slide\n  acceleration_mm_s2: 9.81",
            "3: motion.acceleration_mm_s2",
            "m/s²",
            "9806.65",
        ),
        # words, lists, sections
        ("view: {falls: dwon}", "1: view.falls", "'dwon'", ""),
        ("view: {falls: Down}", "1: view.falls", "'Down'", ""),
        ("view: {falls: no}", "1: view.falls", "no is a switch", "quotes"),
        ("part: {name: 4}", "1: part.name", "4", "put it in quotes"),
        ("view: {region_px: [1, 2, 3]}", "1: view.region_px", "[1, 2, 3]", ""),
        ("view: {region_px: [1, 2, 3.5, 4]}", "1: view.region_px[2]", "3.5", ""),
        ("view: {region_px: [1, 2, 3.5]}", "1: view.region_px[2]", "3.5", ""),
        ("view:\n  region_px: 1,2,3,4", "2: view.region_px", "'1,2,3,4'", "write [1,2,3,4]"),
        ("view: {region_px: [9, 0, 9, 4]}", "1: view.region_px", "holds no pixel", "corner"),
        ("view: 5", "1: view", "5", ""),
        ("view:\n  line_px:180", "1: view", "'line_px:180'", "a space after the colon"),
        ("beam:\n  width_mm: 3", "1: beam", "no height", "better one"),
        ("beam:\n  at_px: 3\n  below_lip_mm: 3", "2: beam.at_px", "together", "better one"),
        ("gate: {}", "1: gate", "no height", "better one"),
        ("part:\n  diameter_mm: 4\n  bore_mm: 4", "3: part.bore_mm", "a bore of 4 mm", "correct"),
        # the file as a whole
        ("- view\n", "1", 'the list ["view"]', ""),
        ("view", "1", "'view'", ""),
        ("line_px:180", "1", "'line_px:180'", "a space after the colon"),
        ("42", "1", "42", ""),
        ("view:\n\tline_px: 3", "2", "a tab", "spaces"),
        ("view:\n  falls: 'down\n", "2", "a quote that is never closed", "close"),
        ("view: {}\n---\nmotion: {}", "2", "second document", "one document"),
        ("view: &v {}\nmotion: *v", "1", "anchor (&) or alias (*)", "write the value out"),
        (b"view:\n  # 4 \xb5s\n", "2", "byte 0xB5", "save the file as UTF-8"),
    ],
)
def test_bad_file(tmp_path: Path, text: str | bytes, place: str, found: str, remedy: str) -> None:
    error = _refused(tmp_path, text)
    assert error.where == f"{tmp_path / 'outlet.yaml'}:{place}"
    assert found in error.found
    assert remedy in error.remedy
    if not remedy:
        assert error.remedy == ""
        assert error.allowed


def test_the_message_says_place_found_allowed_and_remedy(tmp_path: Path) -> None:
    message = str(_refused(tmp_path, "view:\n  falls: up\n  line_pix: 3\n"))
    assert message == (
        f"{tmp_path / 'outlet.yaml'}:3: view.line_pix: unknown key; allowed: the keys "
        "scale_px_per_mm, falls, lip_px, line_px, region_px, lamp_px; did you mean view.line_px?"
    )


@pytest.mark.parametrize(
    ("text", "allowed"),
    [
        ("view: {scale_px_per_mm: 0}", "a number greater than 0 and at most 1000 in px/mm"),
        ("camera: {line_time_us: -1}", "a number at least 0 and at most 10000 in µs"),
        ("view: {lip_px: x}", "a number at least -1000000 and at most 1000000 in px"),
        ("view: {falls: 4}", "down, up, left or right"),
        ("camera: {readout: 4}", "down, up, left, right or global"),
        ("view: {region_px: 4}", "[x0, y0, x1, y1], whole numbers of px, none below 0"),
        ("detector: {options: 4}", "keys and values"),
        ("detector: {name: 4}", "text, on one line"),
        ("detector: 4", "the keys name, options"),
        ("beam: {width_mm: 2}", "exactly one of below_lip_mm and at_px"),
        ("4", "the keys view, motion, camera, detector, beam, gate, part"),
    ],
)
def test_what_is_allowed(tmp_path: Path, text: str, allowed: str) -> None:
    assert _refused(tmp_path, text).allowed == allowed


def test_all_mistakes_at_once_in_order_of_lines(tmp_path: Path) -> None:
    error = _refused(
        tmp_path,
        "view:\n  line_px: 12:30\n  falls: dwon\n  lip_px: 4\n  lip_px: 5\n"
        "beam:\n  at_px: .nan\n  width_mm: 0\nspeed: 3\n",
    )
    head, *lines = str(error).splitlines()
    assert head == "6 mistakes"
    file = str(tmp_path / "outlet.yaml")
    assert [line.removeprefix(f"{file}:").split(": ")[:2] for line in lines] == [
        ["2", "view.line_px"],
        ["3", "view.falls"],
        ["5", "view.lip_px"],
        ["7", "beam.at_px"],
        ["8", "beam.width_mm"],
        ["9", "speed"],
    ]


def test_a_mistaken_height_is_not_called_missing_too(tmp_path: Path) -> None:
    error = _refused(tmp_path, "beam:\n  at_px: 12:30\n")
    assert error.where.endswith(":2: beam.at_px")
    error = _refused(tmp_path, "view: {line_px: 12:30}\nbeam: {width_mm: 3}\n")
    assert "no height" in str(error)


def test_a_repeated_key_does_not_hide_its_bad_value(tmp_path: Path) -> None:
    error = _refused(tmp_path, "view:\n  line_px: 4mm\n  line_px: 5\n")
    assert "given twice" in str(error)
    assert "'4mm'" in str(error)


def test_empty_file_is_an_outlet_of_which_nothing_is_known(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_bytes(b"")
    assert load_outlet(file) == Outlet()


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(OutletError, match=r"none\.yaml: there is no such file"):
        load_outlet(tmp_path / "none.yaml")


def test_directory(tmp_path: Path) -> None:
    with pytest.raises(OutletError, match="a directory"):
        load_part(tmp_path)


def test_unreadable_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Permission bits do not stop the superuser, so the refusal is made here."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(OutletError, match=r"outlet\.yaml: may not be read; check its permissions"):
        load_outlet(tmp_path / "outlet.yaml")


@pytest.mark.parametrize("path", ["a\0b", "x" * 5000, "outlet.yaml/inner.yaml"])
def test_paths_that_cannot_be(tmp_path: Path, path: str) -> None:
    (tmp_path / "outlet.yaml").write_text("", encoding="utf-8")
    with pytest.raises(OutletError, match="cannot be read"):
        load_outlet(f"{tmp_path}/{path}")


def test_large_file_is_not_read(tmp_path: Path) -> None:
    assert "larger than 256 KiB" in str(_refused(tmp_path, b"#" * (LARGEST_BYTES + 1)))
    (tmp_path / "outlet.yaml").write_bytes(b"#" * LARGEST_BYTES)
    assert load_outlet(tmp_path / "outlet.yaml") == Outlet()


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_other_encodings(tmp_path: Path, encoding: str) -> None:
    error = _refused(tmp_path, "part: {name: é}\n".encode(encoding))
    assert "UTF-8" in str(error)


def test_part_files(tmp_path: Path) -> None:
    file = tmp_path / "part.yaml"
    file.write_text("name: M4 nut\nshape: bolt\n", encoding="utf-8")
    with pytest.raises(OutletError, match=r"part\.yaml:2: shape: 'bolt' .*screw, nut"):
        load_part(file)
    file.write_text("view: {line_px: 3}\n", encoding="utf-8")
    with pytest.raises(OutletError, match=r"part\.yaml:1: view: a key of an outlet file"):
        load_part(file)
    file.write_text("part:\n  bore_mm: 3\n", encoding="utf-8")
    with pytest.raises(OutletError, match=r"part\.yaml:1: part: a key of an outlet file"):
        load_part(file)


@pytest.mark.parametrize(
    ("setting", "found", "advice"),
    [
        ("view.line_pix=3", "unknown key", "did you mean view.line_px?"),
        ("line_px=3", "unknown key", "did you mean view.line_px?"),
        ("camera.line_px=3", "unknown key", "did you mean view.line_px?"),
        ("view.region_px.0=3", "unknown key", "[x0, y0, x1, y1]"),
        ("view.line_px.x=3", "unknown key", "a number"),
        ("view={}", "a whole section", "line_px"),
        ("view.line_px", "no equals sign", "view.line_px=180"),
        ("=3", "no key", "view.line_px=180"),
        ("view..line_px=3", "no key", "view.line_px=180"),
        ("view.line_px=", "no value", "null"),
        ("view.line_px=180mm", "'180mm'", "line_px is in px"),
        ("view.line_px=12:30", "12:30 reads as", "plain number"),
        ("view.line_px=017", "017 begins", "leave the zero out"),
        ("view.line_px=yes", "yes is a switch", "true or false"),
        ("view.line_px=true", "true", "a number"),
        ("view.line_px=[3", "never closed", "close"),
        ("view.line_px=a: b", "keys and values", "a number"),
        ("view.region_px=1,2,3,4", "'1,2,3,4'", "write [1,2,3,4]"),
        ("view.region_px=[1, 2, 3]", "[1, 2, 3]", "x0, y0"),
        ("beam.width_mm=3", "no height", "exactly one"),
        ("motion.acceleration_mm_s2=9.81", "m/s²", "9806.65"),
    ],
)
def test_bad_setting(setting: str, found: str, advice: str) -> None:
    with pytest.raises(OutletError) as caught:
        outlet_with(Outlet(), ["view.lip_px=3", setting])
    error = caught.value
    assert error.where == f"--set {setting}"
    assert found in error.found
    assert advice in f"{error.allowed}; {error.remedy}"


def test_settings_that_exclude_one_another() -> None:
    with pytest.raises(OutletError, match="together"):
        outlet_with(Outlet(), ["beam.at_px=3", "beam.below_lip_mm=4"])
    with pytest.raises(OutletError, match="given twice"):
        outlet_with(Outlet(), ["view.line_px=3", "view.line_px=3"])


def test_all_bad_settings_at_once() -> None:
    with pytest.raises(OutletError) as caught:
        outlet_with(Outlet(), ["view.line_pix=3", "view.lip_px=017", "view.line_px=4"])
    head, *lines = str(caught.value).splitlines()
    assert head == "2 mistakes"
    assert [line.split(": ")[0] for line in lines] == [
        "--set view.line_pix=3",
        "--set view.lip_px=017",
    ]
