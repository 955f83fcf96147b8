"""The second pass: the right data in the right place, whatever the batch."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.small import BACK, FRONT, LIST, plan_of, write_job
from vdp.compose.fit import fit
from vdp.compose.piece import Accepted, Piece, compose
from vdp.errors import OurBug
from vdp.marks import Bars, FillMark, ImageMark, Ink, Mark, Matrix, SymbolMark, TextMark
from vdp.plan.build import Plan
from vdp.plan.numbering import numbering_of


def ready(folder: Path, layout: str = FRONT + BACK, records: str = LIST) -> tuple[Plan, list[Accepted]]:
    """A sized plan and its accepted records."""
    job, table, plan = plan_of(write_job(folder, layout=layout, records=records))
    accepted: list[Accepted] = []
    needs: dict[str, int] = {}
    pictures: dict[Path, tuple[int, int]] = {}
    for nth, row in enumerate(table.rows()):
        serials = {name: series.text(nth) for name, series in numbering_of(plan.job, {}).items()}
        found = fit(plan, job.context(row.values, serials, row.row), lambda _: (300, 100))
        needs = {name: max(need, needs.get(name, 0)) for name, need in {**needs, **found.needs}.items()}
        needs |= {name: max(need, needs[name]) for name, need in found.needs.items()}
        pictures |= found.pictures
        accepted.append(Accepted(nth, row.row, row.values, serials))
    return plan.sized(needs, pictures), accepted


def plain(piece: Piece) -> list[object]:
    """A piece as values: shaped text is compared by what it says and where."""

    def mark(one: Mark) -> object:
        if isinstance(one, TextMark):
            lines = [
                (line.x, line.y, line.text, [(g.face, g.gids, g.advances) for g in line.glyphs]) for line in one.lines
            ]
            return (one.name, one.ink, one.box, one.turn, one.size, lines)
        return one

    return [
        piece.nth,
        piece.row,
        piece.language,
        [mark(m) for m in piece.front],
        [mark(m) for m in piece.back],
        piece.symbols,
    ]


def texts(marks: list[Mark], name: str) -> list[str]:
    return [line.text for mark in marks if isinstance(mark, TextMark) and mark.name == name for line in mark.lines]


def symbol(marks: list[Mark], name: str) -> SymbolMark:
    (found,) = [mark for mark in marks if isinstance(mark, SymbolMark) and mark.name == name]
    return found


def test_each_piece_carries_its_own_record_everywhere(tmp_path: Path) -> None:
    plan, accepted = ready(tmp_path)
    for piece, record in zip(compose(plan, accepted), accepted, strict=True):
        name, serial = record.values["name"], record.serials["voucher"]
        assert texts(piece.front, "hello")[0].endswith(name)
        assert texts(piece.front, "number") == [serial]
        assert texts(piece.back, "secret") == [f"GENUINE {serial}"]
        assert texts(piece.back, "fine")[0].startswith(f"{name} {serial} {name}")
        assert {s.name: s.data for s in piece.symbols} == {
            "bars": serial,
            "square": f"{serial}/{name}",
            "hidden": serial,
        }
        assert {s.name: (s.plate, s.side) for s in piece.symbols} == {
            "bars": ("Black", 0),
            "square": ("Black", 0),
            "hidden": ("Clear", 1),
        }


def test_serials_count_from_the_start_with_their_check_digit(tmp_path: Path) -> None:
    _, accepted = ready(tmp_path)
    # Damm (2004) over 0007, 0008, 0009; the digits come from the quasigroup recomputed in tests/test_checkdigit.py.
    assert [record.serials["voucher"][:5] for record in accepted] == ["V0007", "V0008", "V0009"]
    assert all(len(record.serials["voucher"]) == 6 for record in accepted)


def test_any_batch_gives_the_same_pieces(tmp_path: Path) -> None:
    records = "name,lang\n" + "".join(f"Name {n},en\n" for n in range(20))
    plan, accepted = ready(tmp_path, records=records)
    together = [plain(piece) for piece in compose(plan, accepted)]
    for size in (1, 3, 7):
        parts = [accepted[at : at + size] for at in range(0, len(accepted), size)]
        assert [plain(piece) for part in parts for piece in compose(plan, part)] == together


def test_a_matrix_never_changes_its_size_within_a_job(tmp_path: Path) -> None:
    plan, accepted = ready(tmp_path, records="name,lang\nBo,en\nA rather long name,en\n")
    pieces = compose(plan, accepted)
    shapes = [symbol(piece.front, "square").shape for piece in pieces]
    assert [shape.width for shape in shapes if isinstance(shape, Matrix)] == [25, 25]
    assert len({symbol(piece.front, "square").box for piece in pieces}) == 1


def test_a_linear_code_is_as_long_as_its_data(tmp_path: Path) -> None:
    plan, accepted = ready(tmp_path)
    mark = symbol(compose(plan, accepted[:1])[0].front, "bars")
    assert isinstance(mark.shape, Bars)
    assert mark.box[2] == (sum(mark.shape.widths) + 20) * mark.module  # 10X quiet on either side, ISO/IEC 15417 §4.4.2
    assert mark.module == 12  # 0.254 mm at 1200 dpi


def test_microtext_fills_its_line_and_never_passes_it(tmp_path: Path) -> None:
    plan, accepted = ready(tmp_path)
    (mark,) = [m for m in compose(plan, accepted[:1])[0].back if isinstance(m, TextMark) and m.name == "fine"]
    per_em = mark.size * 1200 / 72
    for line in mark.lines:
        width = sum(g.width for g in line.glyphs) * per_em / 1000
        assert mark.box[2] - per_em <= width <= mark.box[2]
    ys = [line.y for line in mark.lines]
    assert ys == sorted(ys, reverse=True)
    assert all(mark.box[1] <= y <= mark.box[1] + mark.box[3] for y in ys)


@pytest.mark.parametrize(("plate", "ground", "letters"), [
    ("Black", Ink("", 0, (0, 0, 0, 1)), Ink("", 0, (0, 0, 0, 0))),
    ("Clear", Ink("Clear", 1, (0, 0, 0, 0)), Ink("Clear", 0, (0, 0, 0, 0))),
])  # fmt: skip
def test_reversed_microtext_is_paper_on_ink(tmp_path: Path, plate: str, ground: Ink, letters: Ink) -> None:
    layout = FRONT + BACK.replace("size: 1 pt}", f"size: 2 pt, reversed: true, plate: {plate}}}")
    plan, accepted = ready(tmp_path, layout)
    fill, text = compose(plan, accepted[:1])[0].back[:2]
    assert isinstance(fill, FillMark)
    assert isinstance(text, TextMark)
    assert (fill.ink, text.ink) == (ground, letters)


def test_pictures_fill_their_box_and_are_cut_or_lie_inside_it(tmp_path: Path) -> None:
    photo = "  - {name: photo, image: a.jpg, box: [20 mm, 30 mm, 6 mm, 6 mm], fit: FIT, turn: TURN}\n"
    (tmp_path / "a.jpg").write_bytes(b"")

    def drawn(fit: str, turn: int) -> ImageMark:
        layout = FRONT + photo.replace("FIT", fit).replace("TURN", str(turn)) + BACK
        plan, accepted = ready(tmp_path, layout)
        (mark,) = [m for m in compose(plan, accepted[:1])[0].front if isinstance(m, ImageMark)]
        return mark

    fill, inside, turned = drawn("fill", 0), drawn("inside", 0), drawn("inside", 90)
    assert fill.clip is not None
    assert (fill.box[3], round(fill.box[2] / fill.box[3], 1)) == (fill.clip[3], 3.0)  # 300 × 100 pixels
    assert inside.clip is None
    assert round(inside.box[2] / inside.box[3], 1) == 3.0
    assert round(turned.box[3] / turned.box[2], 1) == 3.0


def test_a_condition_decides_for_each_record(tmp_path: Path) -> None:
    extra = "  - {name: greek, text: 'EL', when: \"lang == 'el'\", box: [4 mm, 30 mm, 9 mm, 6 mm]}\n"
    plan, accepted = ready(tmp_path, FRONT + extra + BACK)
    pieces = compose(plan, accepted)
    assert [bool(texts(piece.front, "greek")) for piece in pieces] == [False, True, False]


def test_a_record_that_the_first_pass_did_not_accept_is_our_bug(tmp_path: Path) -> None:
    plan, accepted = ready(tmp_path)
    wrong = accepted[0]._replace(values={"name": "\U00013000", "lang": "en"})
    with pytest.raises(OurBug, match="row 2 was accepted and then refused"):
        compose(plan, [wrong])
    assert replace(plan, needs={}) != plan
