"""The project speaks to its readers alone: no private place, no host, no page they cannot open."""

import re
from pathlib import Path

import pytest

# Each pattern is written so that it does not find itself.
PRIVATE = {
    "a private folder": r"(?:^|[^a-z.])/(?:w[o]rk|f[a]rm|r[o]ot|h[o]me)/"
    r"|\.libr[a]ry/|\.\./sh[a]red",
    "a page readers cannot open": r"(?i)seed docum[e]nt|transcr[i]pt|design sect[i]on"
    r"|design docum[e]nt|field[ -]cases? [0-9]|\bC[V]-[0-9]|\bissue #?[0-9]",
    "talk about the work": r"(?i)\b(?:this|our|the) s[e]ssion\b|\bs[u]bagent",
    "a registry's host": r"(?i)pyp[i]\.|pythonh[o]sted|npmj[s]|index-u[r]l|/simp[l]e/"
    r"|registry *[=] *['\"]?http",
}


@pytest.mark.parametrize("kind", PRIVATE)
def test_no_file_has_private_words(kind: str, texts: dict[Path, str]) -> None:
    pattern = re.compile(PRIVATE[kind])
    found = [
        f"{path}:{number}: {line.strip()}"
        for path, text in texts.items()
        for number, line in enumerate(text.splitlines(), start=1)
        if pattern.search(line)
    ]
    assert not found, f"{kind}:\n" + "\n".join(found)


@pytest.mark.parametrize(
    ("kind", "line"),
    [
        ("a private folder", "see /w" + "ork/main"),
        ("a page readers cannot open", "after field c" + "ase 4"),
        ("talk about the work", "as agreed in this s" + "ession"),
        ("a registry's host", "pip install --index-" + "url x"),
    ],
)
def test_patterns_find_what_they_are_for(kind: str, line: str) -> None:
    assert re.search(PRIVATE[kind], line)


def test_constraints_name_versions_and_no_host(texts: dict[Path, str]) -> None:
    for path in (Path("constraints.txt"), Path(".ci/lowest.txt")):
        for line in texts[path].splitlines():
            assert re.fullmatch(r"(#.*)?|[A-Za-z0-9._-]+==[A-Za-z0-9.]+", line), f"{path}: {line}"
