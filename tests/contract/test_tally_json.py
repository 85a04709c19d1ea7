"""The tally's JSON, schema ``viscount.tally/1``, as other programs read it."""

import hashlib
import json
import math
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
from commands import FIXTURES, call
from jsonschema import Draft202012Validator
from tallies import checked, doubtful, invalid, of_total, paired, passage, pour, spread, tally

from viscount.codes import Code
from viscount.outlet import load_outlet
from viscount.report.tally_json import tally_json
from viscount.tally import Assumption, FileMark, FrameTally, SpacingTally, Tally
from viscount.values import Basis, Direction, Pairs

KEYS = [
    "schema",
    "made_by",
    "source",
    "outlet",
    "part",
    "started_at",
    "count",
    "count_low",
    "count_high",
    "confidence",
    "expected",
    "as_expected",
    "counted_at",
    "in_bag",
    "held",
    "status",
    "reasons",
    "assumed",
    "camera",
    "beam",
    "pours",
    "passages",
    "frames",
    "agreement",
    "spacing",
    "check",
    "set_up",
    "lamp",
    "bags",
]


def closed(**properties: Any) -> dict[str, Any]:
    """The schema of an object with exactly these keys."""
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def listed(items: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"type": "array", "items": items, **more}


def or_null(schema: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [schema, {"type": "null"}]}


TEXT = {"type": "string", "minLength": 1}
WHOLE = {"type": "integer"}
NATURAL = {"type": "integer", "minimum": 0}
NUMBER = {"type": "number"}
CHANCE = {"type": "number", "minimum": 0, "maximum": 1}
STATUS = {"enum": ["clean", "doubtful", "invalid"]}
REASONS = listed(closed(code={"enum": [code.code for code in Code]}, text=TEXT))
FILE = closed(name=TEXT, sha256={"type": "string", "pattern": "^[0-9a-f]{64}$"})
SPREAD = closed(min=NUMBER, p05=NUMBER, p50=NUMBER, p95=NUMBER, max=NUMBER)
PAIR = {"minItems": 2, "maxItems": 2}

SCHEMA = closed(
    schema={"const": "viscount.tally/1"},
    made_by={"type": "string", "pattern": r"^viscount \d+\.\d+"},
    source=TEXT,
    outlet=or_null(FILE),
    part=or_null(FILE),
    started_at=or_null({"type": "string", "pattern": r"T.*(Z|[+-]\d\d:\d\d)$"}),
    count=or_null(WHOLE),
    count_low=WHOLE,
    count_high=WHOLE,
    confidence={"const": 0.95},
    expected=or_null(NATURAL),
    as_expected={"type": ["boolean", "null"]},
    counted_at={"enum": ["above_blade", "below_blade", "unknown"]},
    in_bag=or_null(NATURAL),
    held=or_null(NATURAL),
    status=STATUS,
    reasons=REASONS,
    assumed=listed(
        closed(
            code={"enum": [code.code for code in Code]},
            text=TEXT,
            value={"type": ["number", "string", "boolean", "null"]},
            unit=or_null(TEXT),
        )
    ),
    camera=closed(count=WHOLE, against=NATURAL, status=STATUS, reasons=REASONS),
    beam=or_null(
        closed(
            parts=WHOLE,
            pulses=NATURAL,
            lost_edges=NATURAL,
            status=STATUS,
            reasons=REASONS,
            log=or_null(FILE),
        )
    ),
    pours=listed(
        closed(
            start_s=NUMBER,
            end_s=NUMBER,
            count=or_null(WHOLE),
            count_low=WHOLE,
            count_high=WHOLE,
            status=STATUS,
            reasons=REASONS,
        )
    ),
    passages=listed(
        closed(
            id=NATURAL,
            pour={"type": "integer", "minimum": 1},
            time_s=NUMBER,
            sigma_s={"type": "number", "minimum": 0},
            direction={"enum": ["with", "against"]},
            basis={"enum": ["interpolated", "extrapolated"]},
            speed_px_s=NUMBER,
            speed_mm_s=or_null(NUMBER),
            across_px=NUMBER,
            length_px=or_null(NUMBER),
            parts=NATURAL,
            doubt=CHANCE,
            frames=listed(NATURAL, **PAIR),
        )
    ),
    frames=closed(
        read=NATURAL,
        lost=NATURAL,
        repeated=NATURAL,
        damaged=NATURAL,
        rate_hz=or_null(NUMBER),
        blind_s={"type": "number", "minimum": 0},
        blind=listed(listed(NUMBER, **PAIR)),
        end_s=or_null(NUMBER),
    ),
    agreement=or_null(
        closed(
            agreed=NATURAL,
            camera_only=NATURAL,
            beam_only=NATURAL,
            merged_pulses=NATURAL,
            split_pulses=NATURAL,
            ambiguous=NATURAL,
            clock_offset_s=or_null(NUMBER),
            arrival_offset_s=or_null(NUMBER),
            clock_drift_ppm=or_null(NUMBER),
            both_missed=or_null({"type": "number", "minimum": 0}),
            offset_sigma_s=or_null({"type": "number", "minimum": 0}),
            drift_sigma_ppm=or_null({"type": "number", "minimum": 0}),
            pairings=listed(
                closed(
                    kind={"enum": [kind.value for kind in Pairs]},
                    pour={"type": "integer", "minimum": 1},
                    passages=listed(NATURAL),
                    pulses=listed(NATURAL),
                    parts=WHOLE,
                    doubt=CHANCE,
                    excused={"type": "boolean"},
                    at_beam_s=or_null(NUMBER),
                    late_s=or_null(NUMBER),
                    why={"type": "string"},
                )
            ),
            pulses=listed(
                closed(
                    id=NATURAL,
                    epoch=NATURAL,
                    start_s=NUMBER,
                    end_s=NUMBER,
                    captured_s=or_null(NUMBER),
                )
            ),
        )
    ),
    spacing=or_null(
        closed(
            n=NATURAL,
            spacing_mm=or_null(SPREAD),
            interval_ms=or_null(SPREAD),
            gap_ms=or_null(SPREAD),
        )
    ),
    check=or_null(
        closed(
            hand_count=NATURAL,
            counters=listed(
                closed(
                    name={"enum": ["camera", "beam", "both"]},
                    counted=or_null(WHOLE),
                    off=or_null(WHOLE),
                    rate=or_null(CHANCE),
                    rate_low=or_null(CHANCE),
                    rate_high=or_null(CHANCE),
                )
            ),
            target_rate=CHANCE,
            bags_needed=NATURAL,
        )
    ),
    set_up=or_null(
        closed(
            falls={"enum": ["down", "up", "left", "right"]},
            line_px=NUMBER,
            view_px=NUMBER,
            scale_px_per_mm=or_null(NUMBER),
            acceleration_px_s2=or_null(NUMBER),
            head_share=CHANCE,
            quiet_s={"type": "number", "exclusiveMinimum": 0},
        )
    ),
    lamp=or_null(
        listed(
            closed(time_s=NUMBER, on={"type": "boolean"}, sigma_s={"type": "number", "minimum": 0})
        )
    ),
    bags=listed(
        closed(
            number={"type": "integer", "minimum": 1},
            content=WHOLE,
            low=WHOLE,
            high=WHOLE,
            chance=CHANCE,
            held_before=or_null(NATURAL),
            held_after=or_null(NATURAL),
            pinched=or_null(NATURAL),
            status=STATUS,
            reasons=REASONS,
        )
    ),
)
VALIDATOR = Draft202012Validator(SCHEMA)


def strict(text: str) -> dict[str, Any]:
    """Read JSON as a reader that knows no NaN, infinity or repeated key."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in JSON")

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        assert len({key for key, _ in pairs}) == len(pairs)
        return dict(pairs)

    return json.loads(text, parse_constant=refuse, object_pairs_hook=once)


def written(made: Tally) -> dict[str, Any]:
    """A tally as it reads after writing, validated."""
    found = strict(json.dumps(tally_json(made), allow_nan=False))
    VALIDATOR.validate(found)
    return found


@pytest.fixture(scope="module")
def screws() -> dict[str, Any]:
    folder = FIXTURES / "screws"
    answer = call("count", folder / "clip.mp4", "--outlet", folder / "outlet.yaml", "--json")
    assert answer.err == ""
    assert answer.out.count("\n") == 1
    return strict(answer.out)


def test_the_schema_itself_is_one() -> None:
    Draft202012Validator.check_schema(SCHEMA)


def test_a_count_follows_the_schema_key_by_key(screws: dict[str, Any]) -> None:
    VALIDATOR.validate(screws)
    assert list(screws) == KEYS
    assert list(screws["passages"][0]) == list(
        SCHEMA["properties"]["passages"]["items"]["required"]
    )
    assert list(screws["frames"]) == list(SCHEMA["properties"]["frames"]["required"])
    assert list(screws["camera"]) == ["count", "against", "status", "reasons"]


def test_its_figures_agree_with_each_other(screws: dict[str, Any]) -> None:
    passages = screws["passages"]
    assert screws["count"] == screws["camera"]["count"] == sum(p["parts"] for p in passages)
    assert [p["time_s"] for p in passages] == sorted(p["time_s"] for p in passages)
    assert [pour["count"] for pour in screws["pours"]] == [12]
    assert screws["pours"][0]["start_s"] == passages[0]["time_s"]
    assert screws["pours"][0]["end_s"] == passages[-1]["time_s"]
    scale = load_outlet(FIXTURES / "screws" / "outlet.yaml").view.scale_px_per_mm
    in_mm = passages[0]["speed_px_s"] / scale
    assert passages[0]["speed_mm_s"] == pytest.approx(in_mm, abs=0.001)
    assert screws["spacing"]["n"] == 11


def test_times_are_those_of_the_truth(screws: dict[str, Any]) -> None:
    truth = json.loads((FIXTURES / "screws" / "truth.json").read_text(encoding="utf-8"))
    true_s = [part["line_t_ns"] * 1e-9 for part in truth["parts"]]
    assert [p["time_s"] for p in screws["passages"]] == pytest.approx(true_s, abs=1e-4)


def test_files_are_marked_with_their_sums(screws: dict[str, Any]) -> None:
    outlet = FIXTURES / "screws" / "outlet.yaml"
    assert screws["outlet"] == {
        "name": str(outlet),
        "sha256": hashlib.sha256(outlet.read_bytes()).hexdigest(),
    }
    assert screws["part"] is None


def test_with_json_standard_output_carries_nothing_else_on_a_terminal() -> None:
    folder = FIXTURES / "screws"
    answer = call(
        "count", folder / "clip.mp4", "--outlet", folder / "outlet.yaml", "--json", on_terminal=True
    )
    VALIDATOR.validate(strict(answer.out))
    assert "\x1b" not in answer.out + answer.err


@pytest.mark.parametrize(
    "made",
    [
        tally(),
        tally(()),
        doubtful(),
        invalid(),
        invalid(expected=4),
        paired(),
        of_total(),
        checked(),
    ],
)
def test_every_kind_of_tally_follows_the_schema(made: Tally) -> None:
    found = written(made)
    assert list(found) == KEYS
    assert found["count"] == made.count
    assert found["status"] == made.status.value


def test_both_counters_stand_beside_each_other() -> None:
    found = written(paired())
    assert found["beam"]["log"]["name"] == "beam.csv"
    agreement = found["agreement"]
    kinds = [one["kind"] for one in agreement["pairings"]]
    assert kinds == ["agreed", "merged pulse", "camera only", "beam only"]
    assert [one["pulses"] for one in agreement["pairings"]] == [[0], [1], [], [2]]
    assert [one["passages"] for one in agreement["pairings"]] == [[1], [2, 3], [4], []]
    assert agreement["pulses"][1] == {
        "id": 1,
        "epoch": 0,
        "start_s": 5.775,
        "end_s": 5.784,
        "captured_s": 0.525,
    }
    assert agreement["pairings"][0]["late_s"] == 2e-05
    ids = {one["id"] for one in found["passages"]}
    assert ids == {k for one in agreement["pairings"] for k in one["passages"]}


def test_a_bare_total_has_no_agreement() -> None:
    found = written(of_total())
    assert (found["beam"]["parts"], found["beam"]["log"], found["agreement"]) == (3, None, None)


def test_a_hand_count_stands_under_check() -> None:
    check = written(checked())["check"]
    assert check["hand_count"] == 4
    assert [(one["name"], one["off"]) for one in check["counters"]] == [("camera", -1)]
    assert written(tally())["check"] is None


def test_reasons_stand_in_tally_and_camera_with_code_and_text() -> None:
    found = written(doubtful())
    (reason,) = found["reasons"]
    assert reason == {"code": "frames_lost", "text": "gap 50.0 ms after frame 98"}
    assert found["camera"]["reasons"] == [reason]


def test_notes_are_for_people_only() -> None:
    assert "notes" not in written(tally(notes=doubtful().reasons))


def test_numbers_of_numpy_become_plain_ones() -> None:
    one = passage(
        np.int64(7),  # type: ignore[arg-type]
        0.5,
        t_ns=np.int64(500_000_000),
        speed_px_s=np.float32(6000.0),
        parts=np.int64(1),
        doubt=np.float64(0.25),
        first_frame=np.int32(3),
    )
    assumed = (
        Assumption(code=Code.SPEED_LEARNED, text="learned", value=np.float32(1.5), unit="px/s"),  # type: ignore[arg-type]
        Assumption(code=Code.LINE_ASSUMED, text="line", value=180, unit="px"),
        Assumption(code=Code.SETTING_FROM_COMMAND_LINE, text="set", value=True),
    )
    found = written(
        tally(passages=(one,), assumed=assumed, count=np.int64(1), count_low=np.int64(1))
    )
    assert found["passages"][0]["time_s"] == 0.5
    assert found["passages"][0]["doubt"] == 0.25
    assert [a["value"] for a in found["assumed"]] == [1.5, 180, True]


@pytest.mark.parametrize("unknown", [math.nan, math.inf, -math.inf, np.float64("nan")])
def test_what_is_not_finite_is_null(unknown: float) -> None:
    nowhere = replace(spread(3.0), max=unknown)
    made = tally(
        assumed=(Assumption(code=Code.SPEED_LEARNED, text="learned", value=unknown, unit="px/s"),),
        frames=FrameTally(read=1, lost=0, repeated=0, damaged=0, rate_hz=unknown, blind=()),
        spacing=SpacingTally(n=2, spacing_mm=nowhere, interval_ms=None, gap_ms=None),
        passages=(replace(passage(1, 0.5), speed_mm_s=unknown),),
    )
    found = strict(json.dumps(tally_json(made), allow_nan=False))
    assert found["assumed"][0]["value"] is None
    assert found["frames"]["rate_hz"] is None
    assert found["spacing"]["spacing_mm"]["max"] is None
    assert found["passages"][0]["speed_mm_s"] is None


def test_seconds_keep_nanoseconds_and_no_more() -> None:
    made = tally(
        passages=(passage(1, 0.0, t_ns=123_456_789_012, sigma_ns=3),),
        pours=(pour(0.1 + 0.2, 0.7, 1),),
        frames=FrameTally(
            read=9, lost=1, repeated=0, damaged=0, rate_hz=119.99999712, blind=((0.1, 0.1 + 0.2),)
        ),
    )
    text = json.dumps(tally_json(made))
    assert '"time_s": 123.456789012, "sigma_s": 3e-09' in text
    assert '"start_s": 0.3,' in text
    assert '"rate_hz": 119.999997, "blind_s": 0.2, "blind": [[0.1, 0.3]]' in text


def test_there_is_no_minus_zero() -> None:
    made = tally(passages=(passage(1, 0.5, speed_px_s=-0.0, across_px=-1e-9),))
    assert "-0.0" not in json.dumps(tally_json(made))


def test_start_of_the_run_carries_its_offset() -> None:
    found = written(tally(started_at=datetime(2024, 5, 6, 7, 8, 9, tzinfo=UTC)))
    assert found["started_at"] == "2024-05-06T07:08:09+00:00"


def test_against_and_extrapolated_passages_keep_their_words() -> None:
    one = passage(1, 0.5, direction=Direction.AGAINST, basis=Basis.EXTRAPOLATED)
    (found,) = written(tally(passages=(one,)))["passages"]
    assert (found["direction"], found["basis"]) == ("against", "extrapolated")


def test_files_that_were_given_are_named() -> None:
    mark = FileMark(name="part.yaml", sha256="a" * 64)
    assert written(tally(part=mark))["part"] == {"name": "part.yaml", "sha256": "a" * 64}


def test_names_of_any_encoding_go_through_any_pipe() -> None:
    made = tally(source="gie\u00dfen \u2192 \udcff.mp4")
    assert json.dumps(tally_json(made)).isascii()
    assert json.loads(json.dumps(tally_json(made)))["source"] == made.source


@pytest.mark.parametrize("key", KEYS)
def test_the_schema_notices_a_missing_key(key: str) -> None:
    found = written(tally())
    del found[key]
    assert not VALIDATOR.is_valid(found)
