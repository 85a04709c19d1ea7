"""The check in a process of its own: asked, overtaken, refused, lost."""

import multiprocessing
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from viscount.monitor.setup.looking import (
    Answer,
    Looker,
    Pictures,
    Progress,
    Question,
    _OvertakenError,
    _Watcher,
)
from viscount.monitor.setup.stills import MOST_FRAMES, Stills, first_still
from viscount.monitor.setup.verdict import Verdict
from viscount.outlet import Outlet, ViewSettings
from viscount.values import Frame, Status

ClipMaker = Callable[..., Path]
PATIENCE_S = 60.0


def pour(write_clip: ClipMaker, frames: int = 60) -> Path:
    pictures = [np.full((120, 60), 180, np.uint8) for _ in range(frames)]
    for number, picture in enumerate(pictures[20:35]):
        picture[8 * number : 8 * number + 6, 20:40] = 40
    return write_clip("pour.mkv", pictures, range(0, 8 * frames, 8))


def until(looker: Looker, kind: type) -> Iterator[Answer]:
    """Answers up to the first of this kind."""
    while True:
        found = looker.answers(PATIENCE_S)
        assert found, "nobody answers"
        for answer in found:
            yield answer
            if isinstance(answer, kind):
                return


def test_a_question_is_answered_with_a_verdict_and_pictures(write_clip: ClipMaker) -> None:
    with Looker(pour(write_clip)) as looker:
        looker.ask(Outlet())
        answers = list(until(looker, Pictures))
        shares = [one.share for one in answers if isinstance(one, Progress)]
        assert shares == sorted(shares, key=lambda share: share or 0)
        (verdict,) = [one for one in answers if isinstance(one, Verdict)]
        assert verdict.number == 1
        assert verdict.status is not None
        assert "passed the line" in verdict.sentences[0].text
        pictures = answers[-1]
        assert isinstance(pictures, Pictures)
        names = [still.name for still in pictures.stills]
        assert names[:2] == ["paths of all parts", "first picture"]
        paths = pictures.stills[0].pixels
        assert (paths[:126, 25] < 100).mean() > 0.6  # dark wherever the part has been
        assert (paths[:, 5] > 150).all()

        looker.ask(Outlet(view=ViewSettings(line_px=400.0)))
        (refused,) = [one for one in until(looker, Verdict) if isinstance(one, Verdict)]
        assert (refused.number, refused.status) == (2, None)
        assert "line outside the picture" in refused.sentences[0].text

        for line in range(20, 60):
            looker.ask(Outlet(view=ViewSettings(line_px=float(line))))
        verdicts: list[Verdict] = []
        while not verdicts or verdicts[-1].number != looker.asked:
            verdicts += [one for one in until(looker, Verdict) if isinstance(one, Verdict)]
        assert looker.asked == 42
        assert len(verdicts) < 40  # those in between were given up
        assert verdicts[-1].status in Status


def test_a_recording_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    with Looker(tmp_path / "none.mp4") as looker:
        looker.ask(Outlet())
        (verdict,) = until(looker, Verdict)
        assert isinstance(verdict, Verdict)
        assert verdict.status is None
        assert "none.mp4" in verdict.sentences[0].text
        looker._process.kill()
        looker._process.join()
        (lost,) = until(looker, Verdict)
        assert isinstance(lost, Verdict)
        assert lost.headline == "the check cannot be run any more"
        assert looker.answers() == ()
        looker.ask(Outlet())


def frame(index: int, grey: int = 100) -> Frame:
    return Frame(index=index, t_ns=index * 1_000_000, pixels=np.full((4, 5), grey, np.uint8))


def test_a_look_is_given_up_where_a_newer_question_waits() -> None:
    ours, theirs = multiprocessing.Pipe()
    with ours, theirs:
        watcher = _Watcher(theirs, 7, gathers=False)
        watcher.start(Outlet(), 0.0, 64)
        for index in range(32):
            watcher.frame(frame(index))
        assert [ours.recv() for _ in range(2)] == [
            Progress(number=7, share=1 / 64),
            Progress(number=7, share=17 / 64),
        ]
        ours.send(Question(number=8, outlet=Outlet()))
        with pytest.raises(_OvertakenError):
            watcher.frame(frame(32))
        assert watcher.stills is None


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize("count", [1, 5, 100, 1000])
def test_pictures_in_turn_are_spread_over_the_recording(count: int, known: bool) -> None:
    stills = Stills(count if known else None)
    for index in range(count):
        stills.add(frame(index))
    names = [still.name for still in stills.taken()][1:]
    assert names[0] == "first picture"
    assert min(count, MOST_FRAMES) <= len(names) <= 2 * MOST_FRAMES
    last = float(names[-1].split()[2]) if count > 1 else 0.0
    assert last >= 0.001 * count * 0.8 - 0.01


def test_paths_keep_what_was_furthest_from_the_first_picture() -> None:
    stills = Stills(None)
    for index, grey in enumerate((100, 130, 20, 90)):
        stills.add(frame(index, grey))
    assert (stills.taken()[0].pixels == 20).all()


def test_the_first_picture_of_a_clip(write_clip: ClipMaker) -> None:
    still = first_still(pour(write_clip))
    assert still.name == "first picture"
    assert still.pixels.shape == (120, 60)
