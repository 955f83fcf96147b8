"""What differs from frame to frame: codes that decode, a slug line, and stand-ins."""

from __future__ import annotations

import pytest

from tests.press.drawn import black
from tests.sheeted import web_of
from tests.small import write_job
from vdp.errors import CallerError
from vdp.job.faces import job_faces
from vdp.job.load import load_job
from vdp.marks import StrokeMark, SymbolMark, TextMark
from vdp.press.framecode import CodeKind, FrameName, FrameWriter, code_text, measure_code
from vdp.press.printmarks import MARK_KINDS, MarksWanted, plan_marks
from vdp.press.standins import blank_marks, specimen_marks
from vdp.text.faces import Faces
from vdp.text.fit import Setter

IDENTITY = bytes(range(0xA0, 0xC0))


@pytest.fixture(scope="module")
def setter(tmp_path_factory: pytest.TempPathFactory) -> Setter:
    job = load_job(write_job(tmp_path_factory.mktemp("job")))
    return Setter(Faces(job_faces(job)), 1200)


def test_a_code_says_run_roll_frame_lane_and_reprint() -> None:
    assert code_text(IDENTITY, FrameName(2, 143, 1), 3) == "A0A1A2A3-002-000143-03-01"


@pytest.mark.parametrize("kind", ["datamatrix", "code128"])
def test_codes_decode_at_their_place_on_both_sides(kind: CodeKind, setter: Setter) -> None:
    web = web_of(lanes=2, gutter="60 mm") if kind == "datamatrix" else web_of(90, lanes=1, gutter="60 mm")
    size = measure_code(kind, 1200)
    kinds = frozenset(MARK_KINDS) if kind == "datamatrix" else frozenset()
    if kind == "code128":
        # A bar code of this length needs a lane of its own width.
        size = size._replace(module=4, quiet=(40, 0, 40, 0))
        size = size._replace(box=(size.needed * 4 + 80, size.height))
        kinds = frozenset({"code"})
    marks = plan_marks(web, MarksWanted(kinds, (), size.box), "mirrored", "web")
    writer = FrameWriter(web, "mirrored", marks, size, setter, IDENTITY, "Small")
    name = FrameName(1, 7)
    for side, drawn in zip(("front", "back"), writer.marks(name, 3, 250), strict=True):
        codes = [mark for mark in drawn if isinstance(mark, SymbolMark)]
        texts = [black(mark, kind) for mark in codes]
        assert texts == [code_text(IDENTITY, name, lane) for lane in range(1, web.lanes + 1)]
        slugs = [mark.lines[0].text for mark in drawn if isinstance(mark, TextMark)]
        assert slugs == (
            [] if kind == "code128" else [f"Small · A0A1A2A3A4A5A6A7 · roll 1 of 3 · frame 7 of 250 · {side}"]
        )


def test_notes_and_reprints_are_told_on_the_slug_line(setter: Setter) -> None:
    web, size = web_of(), measure_code("datamatrix", 1200)
    marks = plan_marks(web, MarksWanted(frozenset({"slug"}), (), size.box), "mirrored", "web")
    writer = FrameWriter(web, "mirrored", marks, size, setter, IDENTITY, "Small")
    front, _ = writer.marks(FrameName(1, 2, 3), 1, 9, "SPECIMEN")
    assert isinstance(front[0], TextMark)
    assert front[0].lines[0].text.endswith("frame 2 of 9 · reprint 3 · SPECIMEN · front")


def test_a_slug_line_that_cannot_be_set_is_the_callers(setter: Setter) -> None:
    web, size = web_of(lanes=1), measure_code("datamatrix", 1200)
    marks = plan_marks(web, MarksWanted(frozenset({"slug"}), (), size.box), "mirrored", "web")
    writer = FrameWriter(web, "mirrored", marks, size, setter, IDENTITY, "A very long name of a job " * 3)
    with pytest.raises(CallerError, match="slug line"):
        writer.marks(FrameName(1, 2), 1, 9)


def test_a_blank_is_crossed_out_and_says_so(setter: Setter) -> None:
    trim = (94, 94, 2835, 1890)
    marks = blank_marks(trim, setter, 1200)
    assert [type(mark) for mark in marks[:2]] == [StrokeMark, StrokeMark]
    words = [mark.lines[0].text for mark in marks if isinstance(mark, TextMark)]
    assert words == ["BLANK"]
    assert [mark.lines[0].text for mark in specimen_marks(trim, setter) if isinstance(mark, TextMark)] == ["SPECIMEN"]
