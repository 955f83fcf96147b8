"""Pieces to look at: every kind of reason, nothing chosen without one, and the same choice every time."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from tests.small import BACK, FRONT, JOB, write_job
from vdp.errors import CallerError, OurBug
from vdp.press.order import Order, arrange
from vdp.proof.choose import MOST, SEED, Choice, choose
from vdp.run.expected import Expected, expect
from vdp.run.screen import Screen

SCREEN = Screen(io.StringIO())
MORE = """\
  - {name: gift, text: "With a gift", box: [4 mm, 30 mm, 30 mm, 4 mm], size: 7 pt, when: "gift == 'yes'"}
  - {name: never, text: "Never", box: [4 mm, 35 mm, 30 mm, 4 mm], size: 7 pt, when: "gift == 'perhaps'"}
  - {name: face, image: "{{ photo }}", box: [46 mm, 26 mm, 8 mm, 8 mm], when: "gift == 'yes'"}
"""
ROWS = [
    *("Anna,en,no,", "Bo,en,yes,red.png", "Νίκος,el,no,", "Christopher Long,en,yes,blue.png", "Dee,en,yes,"),
    *(f"Guest{chr(65 + at)},en,no," for at in range(20)),
]


@pytest.fixture(scope="module")
def expected(tmp_path_factory: pytest.TempPathFactory) -> Expected:
    folder = tmp_path_factory.mktemp("choose")
    rows = "name,lang,gift,photo\n" + "\n".join(ROWS) + "\n"
    job = JOB + "colour: {rgb: refuse}\n"
    path = write_job(folder, job=job, layout=FRONT + MORE + BACK, records=rows)
    for name, tone in (("red", 40), ("blue", 90)):
        Image.new("L", (200, 200), tone).save(folder / f"{name}.png")
    return expect(path, records=None, screen=SCREEN)


def chosen(expected: Expected, order: Order | None = None, **options: int) -> Choice:
    intake = expected.intake
    sample, seed, most = (
        options.get(name, default) for name, default in (("sample", 0), ("seed", SEED), ("most", MOST))
    )
    return choose(intake.plan, intake.accepted(), intake.pieces, order, sample=sample, seed=seed, most=most)


def reasons(choice: Choice) -> dict[int, tuple[str, ...]]:
    return {each.piece: each.reasons for each in choice.pieces}


def test_each_kind_of_reason_is_found(expected: Expected) -> None:
    found = reasons(chosen(expected))
    assert found[1] == (
        "the first piece",
        "the first in language en",
        "gift is not there: gift == 'yes'",
        "never is not there: gift == 'perhaps'",
        "face is not there: gift == 'yes'",
    )
    assert found[2] == (
        "gift is there: gift == 'yes'",
        "face is there: gift == 'yes'",
        "the first with red.png in face",
        "the shortest text in hello: 7 characters",
    )
    assert found[3] == ("the first in language el",)
    assert found[4] == ("the first with blue.png in face", "the longest text in hello: 21 characters")
    assert found[5] == ("the first without a picture in face",)
    assert found[25] == ("the last piece",)
    assert sorted(found) == [1, 2, 3, 4, 5, 25]


def test_what_cannot_be_shown_is_said(expected: Expected) -> None:
    notes = chosen(expected).notes
    assert notes == ("never has a condition and is on no piece: its other outcome cannot be shown.",)
    few = chosen(expected, most=1)
    assert "1 of 3 pictures are shown; every one was opened." in few.notes
    assert 4 in reasons(few), "it has the longest text"
    assert 5 not in reasons(few)


def test_the_sample_is_drawn_by_its_seed(expected: Expected) -> None:
    first, again, other = (chosen(expected, sample=4, seed=seed) for seed in (7, 7, 8))
    assert first == again != other
    drawn = [each.piece for each in first.pieces if "drawn at random (seed 7)" in each.reasons]
    assert len(drawn) == 4
    everything = chosen(expected, sample=200)
    assert len(everything.pieces) == 25


def test_the_ends_of_blocks_and_rolls(expected: Expected) -> None:
    # 25 pieces, 3 lanes, blocks of 2 frames are 6 pieces, rolls of 4 frames are 12.
    found = reasons(chosen(expected, arrange(25, 3, 1, "blocks", height=2, roll_frames=4)))
    for piece, said in (
        (6, "the last piece of block 1"),
        (7, "the first piece of block 2"),
        (12, "the last piece of roll 1"),
        (13, "the first piece of roll 2"),
        (25, "the last piece of block 5"),
        (25, "the first piece of block 5"),
    ):
        assert said in found[piece]
    across = reasons(chosen(expected, arrange(25, 3, 1, "across", roll_frames=5)))
    assert "the last piece of roll 1" in across[15]
    assert "the first piece of roll 2" in across[16]
    lanes = reasons(chosen(expected, arrange(25, 3, 1, "lanes", roll_frames=5)))
    assert "first piece of roll 2, lane 1" in lanes[6]
    assert "last piece of roll 2, lane 2" in lanes[18]
    one = reasons(chosen(expected, arrange(25, 3, 1, "blocks", height=20)))
    assert not any("roll" in said or "block" in said for each in one.values() for said in each)


def test_where_there_are_very_many_ends_both_ends_of_the_run_are_kept(expected: Expected) -> None:
    choice = chosen(expected, arrange(25, 1, 1, "blocks", height=1), most=4)
    assert "4 of 25 pieces at the ends of a block are shown, from both ends." in choice.notes
    found = reasons(choice)
    assert [piece for piece, said in found.items() if any("block" in each for each in said)] == [1, 2, 24, 25]


def test_what_is_asked_for_is_chosen_and_strangers_are_refused(expected: Expected) -> None:
    choice = expected.choose(SCREEN, sample=0, wanted={9: "it was asked for"})
    assert reasons(choice)[9] == ("it was asked for",)
    with pytest.raises(CallerError, match="there is no piece 26: the run has 25"):
        expected.choose(SCREEN, wanted={26: "x"})


def test_records_that_do_not_come_are_our_bug(expected: Expected) -> None:
    def fewer() -> Iterator[object]:
        records = list(expected.intake.accepted())
        yield from records[:-1]

    with pytest.raises(OurBug):
        choose(expected.intake.plan, fewer(), 25)  # type: ignore[arg-type]  # the same records, one less


def test_a_job_without_languages_has_no_reason_of_language(tmp_path: Path) -> None:
    job = JOB.replace("  language: lang\n", "")
    layout = (FRONT + BACK).replace('{en: "Dear {{ name }}", el: "Αγαπητέ {{ name }}"}', '"Dear guest"')
    path = write_job(tmp_path, job=job, layout=layout)
    found = expect(path, records=None, screen=SCREEN).choose(SCREEN, sample=0)
    assert [each.reasons for each in found.pieces] == [("the first piece",), ("the last piece",)]


BRANCHED = """\
  - name: line
    text:
      en: "{% if gift == 'yes' %}gift{% elif gift == 'no' %}none{% else %}{{ 'long' if name else 'short' }}{% endif %}"
      el: "{% if gift == 'yes' %}δώρο{% else %}κανένα{% endif %}"
    box: [4 mm, 30 mm, 30 mm, 4 mm]
    size: 7 pt
"""


def branched(folder: Path, rows: list[str]) -> Expected:
    path = write_job(folder, layout=FRONT + BRANCHED + BACK, records="\n".join(["name,lang,gift", *rows]) + "\n")
    return expect(path, records=None, screen=SCREEN)


def test_conditions_inside_texts_show_both_outcomes_in_each_wording(tmp_path: Path) -> None:
    """A branch that a record never comes to has no outcome: piece 1 is not asked whether the gift is 'no'."""
    rows = ["Anna,en,yes", "Bo,en,yes", "Νίκος,el,no", "Cy,en,no", "Di,en,maybe", "Ελένη,el,yes", "Ed,en,no"]
    choice = chosen(branched(tmp_path, rows))
    told = {piece: [each for each in said if each.startswith("line")] for piece, said in reasons(choice).items()}
    assert told == {
        1: ["line (en): gift == 'yes' is true"],
        2: [],  # the shortest text in hello
        3: ["line (el): gift == 'yes' is false"],
        4: ["line (en): gift == 'yes' is false, gift == 'no' is true"],
        5: ["line (en): gift == 'no' is false, name is true"],
        6: ["line (el): gift == 'yes' is true"],
        7: [],  # the last piece
    }
    assert choice.notes == ("line (en): name is always true, so its other outcome cannot be shown.",)


def test_one_sided_conditions_are_told_once_and_too_many_are_counted(tmp_path: Path) -> None:
    choice = chosen(branched(tmp_path, ["Anna,en,yes", "Bo,en,no", "Νίκος,el,yes", "Di,en,maybe"]), most=1)
    assert choice.notes == (
        "line (en): name is always true, so its other outcome cannot be shown.",
        "line (el): gift == 'yes' is always true, so its other outcome cannot be shown.",
        "5 outcomes of conditions inside texts are not shown: they would take more than 1 pieces.",
    )
    told = [piece for piece, said in reasons(choice).items() if any(each.startswith("line") for each in said)]
    assert told == [1]
    never = chosen(branched(tmp_path, ["Anna,en,yes", "Bo,en,yes"]))
    assert "line (en): gift == 'no' is never asked, so its other outcome cannot be shown." in never.notes


def test_conditions_around_a_number_show_both_outcomes(tmp_path: Path) -> None:
    job = JOB.replace("prefix: V", "prefix: \"{% if lang == 'el' %}G{% else %}E{% endif %}\"")
    path = write_job(tmp_path, job=job)
    found = expect(path, records=None, screen=SCREEN).choose(SCREEN, sample=0)
    told = {each.piece: [said for said in each.reasons if said.startswith("series")] for each in found.pieces}
    assert told == {
        1: ["series voucher: lang == 'el' is false"],
        2: ["series voucher: lang == 'el' is true"],
        3: [],
    }
