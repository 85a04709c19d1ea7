"""An outlet file is written whole, or is left as it was."""

from pathlib import Path

import pytest

from viscount.errors import OutletError, UsageError
from viscount.outlet.saving import BOM, save_outlet, text_of


def test_a_new_file_appears_and_nothing_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "outlet.yaml"
    save_outlet(path, b"view:\n  line_px: 3.0\n")
    assert [file.name for file in tmp_path.iterdir()] == ["outlet.yaml"]
    assert text_of(path) == ("view:\n  line_px: 3.0\n", b"")


def test_what_would_not_load_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "outlet.yaml"
    path.write_bytes(BOM + b"view: {}\n")
    with pytest.raises(OutletError):
        save_outlet(path, b"view: {line_pix: 3}\n")
    assert path.read_bytes() == BOM + b"view: {}\n"
    assert text_of(path) == ("view: {}\n", BOM)
    assert [file.name for file in tmp_path.iterdir()] == ["outlet.yaml"]


def test_permissions_stay_and_links_are_followed(tmp_path: Path) -> None:
    path, link = tmp_path / "real.yaml", tmp_path / "outlet.yaml"
    path.write_text("", encoding="utf-8")
    path.chmod(0o640)
    link.symlink_to(path)
    save_outlet(link, b"view: {falls: up}\n")
    assert link.is_symlink()
    assert path.read_bytes() == b"view: {falls: up}\n"
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="cannot be written"):
        save_outlet(tmp_path / "none" / "outlet.yaml", b"")
