"""Many runs together: rates with exact limits, what neither saw, how many more bags."""

from dataclasses import replace

import pytest
from scipy import stats

from viscount.codes import Code
from viscount.counters.pool import LEAST_POOLED, StoredRun, pooled
from viscount.errors import UsageError
from viscount.values import Pairing, Pairs, Status

TARGET = 1e-3


def pairings(both: int, camera_only: int = 0, beam_only: int = 0) -> tuple[Pairing, ...]:
    kinds = [
        *[(Pairs.AGREED, True, True)] * both,
        *[(Pairs.CAMERA_ONLY, True, False)] * camera_only,
        *[(Pairs.BEAM_ONLY, False, True)] * beam_only,
    ]
    return tuple(
        Pairing(
            kind=kind,
            passages=(k,) if seen else (),
            pulses=(k,) if pulsed else (),
            parts=1,
            doubt=0.0,
        )
        for k, (kind, seen, pulsed) in enumerate(kinds)
    )


def run(number: int = 0, **changes: object) -> StoredRun:
    plain = StoredRun(
        name=f"run-{number}.json",
        outlet="a" * 64,
        part="b" * 64,
        settings=(),
        mark=str(number),
        count=24,
        status=Status.CLEAN,
        reasons=frozenset(),
        pairings=pairings(24),
        hand_count=None,
        alone=(),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def checked(number: int, true: int, camera: int, beam: int, both: int) -> StoredRun:
    alone = (("camera", camera), ("beam", beam))
    return run(number, hand_count=true, count=both, alone=alone)


def test_each_counter_is_tried_on_what_the_other_saw() -> None:
    found = pooled([run(1, pairings=pairings(100, 8, 2)), run(2, pairings=pairings(90))], TARGET)
    caught = found.caught
    assert (caught.both, caught.camera_only, caught.beam_only, caught.parts) == (190, 8, 2, 200)
    assert (caught.camera.errors, caught.camera.trials) == (2, 192)
    assert (caught.beam.errors, caught.beam.trials) == (8, 198)
    # Clopper and Pearson by the beta distribution.
    assert caught.beam.low == pytest.approx(stats.beta.ppf(0.025, 8, 191))
    assert caught.beam.high == pytest.approx(stats.beta.ppf(0.975, 9, 190))


def test_what_neither_saw_needs_enough_parts() -> None:
    few = pooled([run(1, pairings=pairings(LEAST_POOLED - 11, 8, 2))], TARGET).caught
    assert (few.parts, few.missed, few.petersen) == (LEAST_POOLED - 1, None, None)
    caught = pooled([run(1, pairings=pairings(190, 8, 2))], TARGET).caught
    # n1 n2 / m - found, and (n1 + 1) (n2 + 1) / (m + 1) - 1 - found.
    assert caught.petersen == pytest.approx(198 * 192 / 190 - 200)
    assert caught.missed is not None
    assert caught.missed.value == pytest.approx(199 * 193 / 191 - 1 - 200)


def test_what_one_counter_could_not_see_tries_it_not() -> None:
    away = replace(pairings(0, 1)[0], excused=True)
    nothing = replace(pairings(0, 0, 1)[0], parts=0)
    back = replace(pairings(1)[0], parts=-1)
    found = pooled([run(1, pairings=(*pairings(10), away, nothing, back))], TARGET)
    assert (found.caught.parts, found.caught.beam.errors) == (10, 0)


def test_a_merged_pulse_counts_all_its_parts() -> None:
    two = Pairing(kind=Pairs.MERGED_PULSE, passages=(1, 2), pulses=(1,), parts=2, doubt=0.0)
    assert pooled([run(1, pairings=(two,))], TARGET).caught.both == 2


@pytest.mark.parametrize(
    "changes",
    [
        {"pairings": None},
        {"reasons": frozenset({Code.CLOCKS_AMBIGUOUS})},
        {"reasons": frozenset({Code.COUNTERS_DISAGREE_IN_TIME})},
        {"reasons": frozenset({Code.CAMERA_ALONE})},
    ],
)
def test_runs_that_are_not_paired_say_nothing_of_who_saw_what(changes: dict) -> None:
    found = pooled([run(1), run(2, **changes)], TARGET)
    assert found.unpaired == ("run-2.json",)
    assert (found.runs, found.caught.parts) == (2, 24)


def test_check_pours_try_each_counter_against_the_truth() -> None:
    runs = [checked(k, 24, 24, 24, 24) for k in range(8)]
    runs += [checked(8, 24, 24, 21, 24), checked(9, 24, 23, 24, 24), run(10)]
    camera, beam, both = pooled(runs, TARGET).checked
    assert [one.name for one in (camera, beam, both)] == ["camera", "beam", "both"]
    assert (camera.bags.errors, camera.bags.trials) == (1, 10)
    assert (camera.parts.errors, camera.parts.trials) == (1, 240)
    assert (beam.parts.errors, both.parts.errors, both.bags.errors) == (3, 0, 0)


def test_a_camera_alone_is_checked_alone() -> None:
    alone = run(1, pairings=None, hand_count=24, alone=(("camera", 23),), count=23)
    (camera,) = pooled([alone], TARGET).checked
    assert (camera.name, camera.bags.errors) == ("camera", 1)


def test_a_counter_without_a_count_has_a_wrong_bag_and_no_parts() -> None:
    blind = replace(checked(1, 24, 0, 24, 24), alone=(("camera", None), ("beam", 24)))
    camera, beam, _ = pooled([blind], TARGET).checked
    assert (camera.bags.errors, camera.parts.trials, camera.parts.rate) == (1, 0, None)
    assert beam.parts.trials == 24


def test_how_many_more_bags_is_by_what_was_right_already() -> None:
    right = [checked(k, 24, 24, 24, 24) for k in range(30)]
    # ln 0.05 / ln 0.999 = 2994.2 bags without a wrong one.
    assert pooled(right, TARGET).bags_needed == 2995 - 30
    assert pooled([run(1)], TARGET).bags_needed == 2995
    # One wrong bag costs more than beginning anew would.
    wrong = [*right, checked(99, 24, 24, 24, 23)]
    assert pooled(wrong, TARGET).bags_needed > 2995


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"outlet": "c" * 64}, "another outlet file than that of run-1.json: sha256 cccccccccccc"),
        ({"part": None}, "another part file than that of run-1.json: none"),
        ({"settings": ("view.line_px=80",)}, "another settings"),
        ({"outlet": None}, "without an outlet file"),
        ({"mark": "1"}, "the same run as run-1.json"),
    ],
)
def test_runs_that_are_not_alike_are_refused(changes: dict, said: str) -> None:
    with pytest.raises(UsageError, match=said) as refused:
        pooled([run(1), run(2, **changes)], TARGET)
    assert "run-2.json" in str(refused.value)
