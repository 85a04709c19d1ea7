"""Two counters in words."""

from dataclasses import replace

import pytest
from tallies import checked, of_total, paired, pairing, tally

from viscount.cli.beam_facts import beam_facts, check_facts
from viscount.cli.readable import as_text
from viscount.codes import Code
from viscount.tally import Reason, Tally
from viscount.values import Pairs, Status


def said(made: Tally) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for fact in beam_facts(made):
        found.setdefault(fact.label, []).append(fact.text)
    return found


def test_what_each_saw_and_both_saw():
    assert said(paired()) == {
        "beam": ["4 parts by itself, from 3 pulses; clean"],
        "both": ["3 parts seen by both, 1 by the camera only, 1 by the beam only"],
        "merged": ["1 pulse stood for several parts, 2 in all, at 0.525 s (2)"],
        "camera only": ["1 part gave no pulse, at 0.560 s"],
        "beam only": ["1 part gave no passage, at 0.600 s"],
        "clocks": ["the beam's is 5.2500 s ± 0.7 ms ahead, and runs 18 ± 2 ppm fast"],
    }


def test_nothing_is_said_without_a_beam_and_little_of_a_total():
    assert said(tally()) == {}
    assert said(of_total()) == {"beam": ["a total of 3, and no more than that"]}


def test_what_only_one_could_see_is_told_apart():
    away = pairing(Pairs.CAMERA_ONLY, 0.7, passages=(4,), excused=True)
    (text,) = said(paired(pairings=(away,)))["camera only"]
    assert text == "1 part gave no pulse while the other counter was not watching, at 0.700 s"


def test_of_many_places_the_first_are_named():
    many = tuple(pairing(Pairs.CAMERA_ONLY, 0.1 * k, passages=(k,)) for k in range(1, 9))
    (text,) = said(paired(pairings=many))["camera only"]
    assert (
        text == "8 parts gave no pulse, at 0.100 s, 0.200 s, 0.300 s, 0.400 s, 0.500 s and 3 more"
    )


def test_pulses_of_no_part():
    spike = pairing(Pairs.BEAM_ONLY, 0.7, pulses=(2,), parts=0)
    assert said(paired(pairings=(spike,)))["beam only"] == ["1 pulse of no part, at 0.700 s"]


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        (
            {"clock_offset_s": -0.25, "clock_drift_ppm": -4.0, "offset_sigma_s": 3e-5},
            "the beam's is 0.2500 s ± 30 µs behind, and runs 4 ± 2 ppm slow",
        ),
        (
            {"clock_offset_s": None, "arrival_offset_s": 0.341, "clock_drift_ppm": None},
            "a pulse shows 0.3410 s ± 0.7 ms after its line crossing",
        ),
        ({"clock_offset_s": None}, "not brought together"),
    ],
)
def test_clocks(changes: dict[str, float | None], text: str):
    agreement = replace(paired().agreement, **changes)
    assert said(paired(agreement=agreement))["clocks"] == [text]


def test_what_both_missed_is_a_least_number():
    agreement = replace(paired().agreement, both_missed=0.42)
    (text,) = said(paired(agreement=agreement))["neither"]
    assert text == "about 0.42 parts seen by neither, at least"


def test_a_check_pour():
    texts = [fact.text for fact in check_facts(checked().check)]
    assert texts[0] == "4 parts"
    assert texts[1] == "camera: 3, 1 missing; 25 % of the parts wrong, truly 0.63 to 81 %"
    assert texts[2].startswith("2995 more bags in a row must come out right")
    assert list(check_facts(None)) == []


def test_notes_that_these_lines_already_are_do_not_come_twice():
    notes = (
        Reason(code=Code.PULSES_OF_SEVERAL, text="1 pulse stood for several parts"),
        Reason(code=Code.PULSES_OUTSIDE, text="9 pulses left out"),
    )
    text = as_text(paired(notes=notes))
    assert text.count("stood for several parts") == 1
    assert "note" in text
    assert "9 pulses left out" in text
    assert "1 pulse stood" in as_text(tally(notes=notes))


def test_a_camera_that_cannot_count_beside_a_beam_that_does():
    camera = replace(paired().camera, status=Status.INVALID)
    made = paired(camera=camera, status=Status.DOUBTFUL)
    assert "with the fall, 0 against it, by the camera; invalid; not a result" in as_text(made)
