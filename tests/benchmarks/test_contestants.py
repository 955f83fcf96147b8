"""Whether every contestant draws the letter, and whether the judge would notice if one did not.  No times."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

import pikepdf
import pytest

from tests.benchmarks import memory, scale, verify
from tests.benchmarks.compose import fairness, ratio, targets, told
from tests.benchmarks.contestants import CONTESTANTS, JUDGED
from tests.benchmarks.judge import judge
from tests.benchmarks.lap import Lap
from tests.benchmarks.letter.design import design
from tests.benchmarks.letter.job import make_job
from tests.benchmarks.letter.records import make_records

COUNT = 8
#: What the extra `bench` installs.
EXTRAS = ("arabic_reshaper", "bidi", "typst")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("letter")
    make_job(folder, COUNT)
    return folder


@pytest.fixture(scope="module")
def extras() -> None:
    absent = [name for name in EXTRAS if importlib.util.find_spec(name) is None]
    if absent and os.environ.get("CI"):
        pytest.fail(f"{', '.join(absent)} not installed, and CI must have the extra 'bench'")
    if absent:
        pytest.skip(f"{', '.join(absent)} not installed (extra 'bench'): the rivals were not tried")


@pytest.fixture(scope="module")
def sound(folder: Path, extras: None) -> Path:
    """A file that the judge has nothing against."""
    out = folder / "sound.pdf"
    CONTESTANTS["tuned-lent"].compose()(folder, folder / "records.csv", COUNT, out)
    return out


@pytest.mark.parametrize("name", JUDGED)
def test_a_contestant_draws_the_letter(name: str, folder: Path, extras: None) -> None:
    out = folder / f"{name}.pdf"
    CONTESTANTS[name].compose()(folder, folder / "records.csv", COUNT, out)
    assert judge(out, folder, folder / "records.csv", COUNT) == []


def test_the_judge_counts_pages(folder: Path, sound: Path) -> None:
    assert judge(sound, folder, folder / "records.csv", COUNT - 1) == [f"{2 * COUNT} pages for {COUNT - 1} letters"]


def test_the_judge_sees_two_backs_that_changed_places(folder: Path, sound: Path) -> None:
    with pikepdf.open(sound) as pdf:
        second, fourth = pdf.pages[1].obj.Contents, pdf.pages[3].obj.Contents
        pdf.pages[1].obj.Contents, pdf.pages[3].obj.Contents = fourth, second
        pdf.save(folder / "swapped.pdf")
    faults = judge(folder / "swapped.pdf", folder, folder / "records.csv", COUNT)
    assert {fault.split(":")[0] for fault in faults} == {"piece 1", "piece 2"}
    assert any("QRCode reads" in fault for fault in faults)
    assert any("Code128 reads" in fault for fault in faults)


def test_the_judge_sees_a_wrong_picture(folder: Path, sound: Path) -> None:
    with pikepdf.open(sound) as pdf:
        for page in pdf.pages[::2]:
            data = page.obj.Contents.read_bytes()
            number = next(n for n in b"123456" if b"picture" + bytes([n]) in data)
            other = b"1" if number != ord("1") else b"2"
            page.obj.Contents = pdf.make_stream(data.replace(b"picture" + bytes([number]), b"picture" + other))
            break
        pdf.save(folder / "picture.pdf")
    faults = judge(folder / "picture.pdf", folder, folder / "records.csv", COUNT)
    assert len(faults) == 1
    assert faults[0].startswith("piece 1: picture ")


def test_the_letter_is_as_the_workload_is_described(folder: Path) -> None:
    letters = list(design().letters(folder / "records.csv", COUNT))
    assert [letter.language for letter in letters] == ["en", "pl", "el", "ar"] * 2
    assert {len(line) for letter in letters for line in letter.microtext} == {200}
    assert {(len(letter.code), len(letter.hidden_code)) for letter in letters} == {(41, 38)}
    assert {len(letter.address) for letter in letters} == {6}
    # Luhn over 100000000: the 1 is doubled, as every other digit from the right is; 8 makes the sum 10.
    assert letters[0].serial == "VS1000000008"


def test_a_short_list_is_the_beginning_of_a_long_one(tmp_path: Path) -> None:
    make_records(5, tmp_path / "short.csv")
    make_records(50, tmp_path / "long.csv")
    assert (tmp_path / "long.csv").read_bytes().startswith((tmp_path / "short.csv").read_bytes())


def test_ratios_targets_and_the_void_table() -> None:
    laps = {
        "straight": Lap("straight", 1000, 10.0, 5.0, 1, 1),
        "tuned-lent": Lap("tuned-lent", 1000, 1.0, 1.0, 1, 1),
        "vdp": Lap("vdp", 100_000, 10.0, 10.0, 1, 1),
    }
    assert ratio(laps, "vdp", "straight", "wall") == 100
    assert ratio(laps, "vdp", "straight", "cpu") == 50
    assert ratio(laps, "vdp", "overlay", "wall") is None
    assert [goal.verdict for goal in targets(laps, "wall")] == ["pass", "pass", "not measured", "not measured", "FAIL"]
    fair = fairness(laps, "wall")
    assert [goal.verdict for goal in fair] == ["FAIL", "not measured"]
    found = {"laps": [], "wrong": {"vdp": ["3 pages for 1 letters"]}, "fairness": [], "targets": [], "void": True}
    assert "NO TIME, 3 pages" in told(found)
    assert "table void" in told(found)


def test_memory_verification_and_scale_are_held_against_their_targets() -> None:
    assert memory.verdict(Lap("vdp", 100_000, 1.0, 1.0, 200_000_000, 1)) == "pass (≤ 200)"
    assert memory.verdict(Lap("vdp", 1_000_000, 1.0, 1.0, 280_000_001, 0)) == "FAIL (≤ 280)"
    assert memory.verdict(Lap("vdp", 1_000, 1.0, 1.0, 280_000_001, 1)) == ""
    assert verify.Verification("dense", "with the records", 200, 800, 2.0).verdict == "pass (≥ 100)"
    assert verify.Verification("dense", "with the records", 200, 800, 2.1).verdict == "FAIL (≥ 100)"
    assert verify.Verification("layout", "with the records", 200, 800, 2.1).verdict == ""
    found = {"workers": 2, "ratio": 1.79, "pages": 200_000, "opening": 0.2}
    assert scale.verdicts(found) == {"ratio": "FAIL (≥ 1.8)", "opening": "pass (≤ 0.2)"}
    assert scale.verdicts(found | {"workers": 1, "pages": 100}) == {}
