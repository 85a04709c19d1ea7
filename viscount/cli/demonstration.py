"""The demo's run: simulate, count the files by the way any clip is counted, compare."""

from pathlib import Path

from viscount.cli.comparison import Comparison, compared
from viscount.cli.counting import counted
from viscount.cli.ending import status_of
from viscount.cli.facts import Fact
from viscount.cli.own_folder import OwnFolder
from viscount.cli.progress import busy
from viscount.cli.readable import as_json_text, as_text, fact_table, plain_lines
from viscount.cli.screen import OutputError, complain, on_terminal, rendered, shown
from viscount.errors import ExitStatus
from viscount.simulate.demo import demo_scene
from viscount.simulate.pour import write_pour

_STORY = (
    "A workshop packs kits for a plant stand; each takes 24 M4x12 screws. Here is one pour of "
    "them, simulated, and counted from its files the way a clip of yours would be."
)
_FILES = {
    "clip.mp4": "what the camera saw: 120 frames a second, H.264",
    "outlet.yaml": "the outlet file that the count was run with",
    "scene.yaml": "the pour as a scene file, for `viscount simulate`",
    "truth.json": "what truly happened, part by part and frame by frame",
    "tally.json": "the tally, as `viscount count --json` prints it",
    "strip.png": "the line strip: recount the pour by eye",
    "beam.csv": "what a beam logged of the same pour; the count was paired with it",
}


def demonstrate(out: Path) -> tuple[str, ExitStatus]:
    """Run the demo into a folder; return what there is to print, and the exit status.

    Raises
    ------
    viscount.errors.UsageError : the folder holds files that are not the demo's own.
    OutputError : the files cannot be written.
    """
    folder = OwnFolder(out, tuple(_FILES))
    folder.require_own()
    try:
        with busy("simulating the pour"):
            written = write_pour(demo_scene(), out)
        folder.seal()
        tally, strip = counted(
            written.clip,
            outlet=written.outlet,
            beam=written.beam,
            shows_progress=True,
            with_strip=True,
        )
        text = as_json_text(tally, laid_out=True)
        (out / "tally.json").write_text(text, encoding="utf-8")
        if strip is not None:
            strip.write(tally, out / "strip.png")
        folder.seal()
    except OSError as error:
        raise OutputError(
            f"the demo's files cannot be written ({error.strerror})", where=str(out)
        ) from error
    comparison = compared(tally, written.truth)
    status = status_of(tally)
    if not comparison.equal:
        complain("the count is not the truth: please report this")
        status = ExitStatus.INVALID
    answer = [_shown(_intro(comparison)), as_text(tally), _files(out)]
    return "\n".join(answer), status


def _intro(comparison: Comparison) -> list[Fact]:
    facts = [
        Fact(label="demo", text=_STORY),
        Fact(label="truth", text=f"{comparison.truth} parts crossed the line"),
        Fact(label="counted", text=comparison.counted_words),
    ]
    if comparison.worst_ms is not None and comparison.rms_ms is not None:
        text = f"off by {comparison.rms_ms:.4f} ms rms, {comparison.worst_ms:.4f} ms at worst"
        facts.append(Fact(label="times", text=text))
    return facts


def _files(out: Path) -> str:
    facts = [Fact(label=name, text=what) for name, what in _FILES.items()]
    return f"In {shown(str(out))}:\n{_shown(facts)}"


def _shown(facts: list[Fact]) -> str:
    if on_terminal():
        return rendered(fact_table(facts))
    return "\n".join(plain_lines(facts)) + "\n"
