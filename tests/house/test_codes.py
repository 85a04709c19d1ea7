"""Every notice can happen: the package raises it, and some test meets it."""

import re
from pathlib import Path

import pytest

from viscount.codes import Code, barrier, counting, cutting, live, scaling


def naming(code: Code, texts: dict[Path, str], top: str) -> list[Path]:
    """Files under `top` that name a code, as a member or by its word."""
    name = re.compile(rf"\bCode\.{code.name}\b|[\"']{code.code}[\"']")
    return [
        path
        for path, text in texts.items()
        if path.parts[0] == top
        and path.suffix == ".py"
        and path.parts[:2] not in {("viscount", "codes"), ("tests", "house")}
        and name.search(text)
    ]


@pytest.mark.parametrize("code", Code)
def test_some_room_raises_it(code: Code, texts: dict[Path, str]) -> None:
    assert naming(code, texts, "viscount"), f"nothing in the package raises {code.name}"


@pytest.mark.parametrize("code", Code)
def test_some_test_meets_it(code: Code, texts: dict[Path, str]) -> None:
    assert naming(code, texts, "tests"), f"no test names {code.name}"


@pytest.mark.parametrize("code", Code)
def test_word_is_the_name_in_lower_case(code: Code) -> None:
    assert code.code == code.name.lower()
    assert code.meaning
    assert code.remedy


def test_every_text_belongs_to_a_code() -> None:
    told = [*counting.TEXTS, *barrier.TEXTS, *cutting.TEXTS, *live.TEXTS, *scaling.TEXTS]
    assert sorted(told) == sorted(code.code for code in Code)
