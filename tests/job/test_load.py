"""The Job: what was read, and what can be asked of it."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from tests.job.made import BOX, JOB, LAYOUT, item, load, put
from vdp.errors import CallerError, RowRefused
from vdp.job import load as loading
from vdp.job.items import (
    KINDS,
    ArtItem,
    BarcodeItem,
    BoxItem,
    ImageItem,
    LayoutModel,
    LineItem,
    MicrotextItem,
    NumberItem,
    TextItem,
    kind_of,
)
from vdp.job.load import load_job

ALL = f"""\
trim: [6 in, 297 mm]
front:
  - {{art: art.pdf, page: 2}}
  - {{text: a, {BOX}, size: 11 pt}}
  - {{number: main, {BOX}, face: mono}}
  - {{image: "{{{{ picture }}}}", {BOX}}}
  - {{barcode: code128, data: a, at: [0, 0], x: 0.25 mm, height: 9 mm, room: [9 mm, 9 mm]}}
  - {{barcode: qr, data: a, at: [0, 0], x: 0.25 mm, level: H, version: 3, plate: Clear}}
  - {{barcode: datamatrix, data: a, at: [0, 0], x: 0.25 mm}}
  - {{microtext: a, {BOX}, reversed: true}}
  - {{line: 1 pt, start: [0, 0], end: [9 mm, 9 mm], colour: [0, 0, 0, 50]}}
  - {{{BOX}, weight: 1 pt, plate: Cyan, tint: 20, turn: 90, when: row > 2}}
back: []
"""


def test_every_kind_of_item(tmp_path: Path) -> None:
    (tmp_path / "art.pdf").write_bytes(b"")
    job = load(tmp_path, layout=ALL)
    kinds = [type(one) for one in job.layout.front]
    assert kinds == [
        ArtItem,
        TextItem,
        NumberItem,
        ImageItem,
        BarcodeItem,
        BarcodeItem,
        BarcodeItem,
        MicrotextItem,
        LineItem,
        BoxItem,
    ]
    assert [kind_of(one) for one in job.layout.front] == [
        "art", "text", "number", "image", "barcode", "barcode", "barcode", "microtext", "line", "box",
    ]  # fmt: skip
    assert set(KINDS.values()) == set(kinds)
    assert job.layout.trim == pytest.approx((432.0, 297 * 72 / 25.4))
    # A layout can be made of its own items again.
    again = LayoutModel.model_validate({"trim": ("1 in", "1 in"), "front": job.layout.front, "back": ()})
    assert again.front == job.layout.front


def test_defaults(tmp_path: Path) -> None:
    job = load(tmp_path)
    assert job.model.resolution == 1200
    assert job.model.set_aside == "stop"
    assert list(job.model.spots) == ["Clear"]
    assert job.model.spots["Clear"].hidden
    text = job.layout.front[0]
    assert isinstance(text, TextItem)
    assert (text.face, text.size, text.least, text.plate, text.tint, text.turn) == ("sans", 11.0, None, None, 100, 0)
    assert (job.path, job.folder, job.layout_path) == (tmp_path / "job.yaml", tmp_path, tmp_path / "layout.yaml")


def test_dates_of_jobs(tmp_path: Path) -> None:
    for date in ("2026-03-09", "2026-03-09T08:00:00Z"):
        assert load(tmp_path, f"{JOB}date: {date}\n").model.date == date
    assert load(tmp_path, f"{JOB}date:\n").model.date is None


def test_places_for_faults_found_later(tmp_path: Path) -> None:
    job = load(tmp_path)
    assert job.where("layout", "front", 0, "box") == f"{tmp_path}/layout.yaml:5:10"
    assert job.where("layout", "front", 0, "name") == f"{tmp_path}/layout.yaml:4:5"
    assert job.where("job", "records", "fields", "travel") == f"{tmp_path}/job.yaml:8:13"
    assert job.where("layout") == f"{tmp_path}/layout.yaml:1:1"


def test_files_that_the_job_and_the_layout_name(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(b"")
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "b.pdf").write_bytes(b"")
    (tmp_path / "sub" / "layout.yaml").write_text(LAYOUT)
    job = load(tmp_path, JOB.replace("layout.yaml", "sub/layout.yaml"))
    assert job.file("a.pdf", job.where("job")) == (tmp_path / "a.pdf").resolve()
    # Names in a layout are relative to it.
    assert job.file("b.pdf", job.where("layout")) == (tmp_path / "sub" / "b.pdf").resolve()
    assert job.picture("b.pdf") == (tmp_path / "sub" / "b.pdf").resolve()
    with pytest.raises(CallerError) as caught:
        job.file("../a.pdf", job.where("layout", "front"))
    assert str(caught.value) == f"{tmp_path}/sub/layout.yaml:4:3: '../a.pdf' leads out of the job's folder"


@pytest.mark.parametrize(
    "name", ["../a.jpg", "/etc/passwd", "a\0.jpg", "..\\a.jpg", "nul.jpg", "none.jpg", "", "x" * 9999, "link.jpg", "."]
)
def test_pictures_that_a_record_must_not_name(tmp_path: Path, name: str) -> None:
    home = tmp_path / "job"
    job = load(home)
    (tmp_path / "a.jpg").write_bytes(b"")
    (home / "link.jpg").symlink_to(tmp_path / "a.jpg")
    with pytest.raises(RowRefused) as caught:
        job.picture(name)
    assert str(caught.value).startswith("the picture '")
    assert len(str(caught.value)) < 250


def test_pictures_are_remembered_and_forgotten(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loading, "_REMEMBERED", 3)
    job = load(tmp_path)
    for n in range(5):
        (tmp_path / f"{n}.jpg").write_bytes(b"")
        assert job.picture(f"{n}.jpg") == (tmp_path / f"{n}.jpg").resolve()
        assert len(job._pictures) <= 3
    (tmp_path / "4.jpg").unlink()
    assert job.picture("4.jpg").name == "4.jpg"


def test_languages_and_locales(tmp_path: Path) -> None:
    job = load(tmp_path, JOB.replace("el]", "el, no, Klingon]") + "locales: {no: nb, en: en-GB}\n")
    assert job.language_of({"lang": "el"}) == "el"
    assert job.language_of({}) == ""
    assert [job.locale_of(language) for language in ("el", "en", "no", "Klingon", "", "pt-br")] == [
        "el", "en_GB", "nb", "en", "en", "pt_BR",
    ]  # fmt: skip
    assert load(tmp_path, JOB.replace("  language: lang\n", "")).language_of({"lang": "el"}) == ""


def test_what_the_templates_of_a_record_see(tmp_path: Path) -> None:
    context = load(tmp_path).context({"lang": "el", "name": "x"}, {"main": "A-1"}, 7)
    assert (context.language, context.locale, context.row) == ("el", "el", 7)
    assert context.dates == {"travel": "%d.%m.%Y"}
    assert context.values["name"] == "x"
    assert context.serials == {"main": "A-1"}


def test_wording(tmp_path: Path) -> None:
    job = load(tmp_path)
    assert job.wording("for all", "de", "greeting") == "for all"
    assert job.wording({"de": "Hallo", "other": "Hello"}, "de", "greeting") == "Hallo"
    assert job.wording({"de": "Hallo", "other": "Hello"}, "el", "greeting") == "Hello"
    assert job.wording({"de": "", "other": "Hello"}, "de", "greeting") == ""
    with pytest.raises(RowRefused) as caught:
        job.wording({"de": "Hallo"}, "el", "greeting")
    assert str(caught.value) == "greeting: there is no text for language 'el'"


def test_records_need_not_be_there_yet(tmp_path: Path) -> None:
    assert load(tmp_path).records_path == tmp_path / "people.csv"
    (tmp_path / "people.csv").write_text("lang\n")
    assert load(tmp_path).records_path == tmp_path / "people.csv"


def test_records_named_by_the_caller_lie_anywhere(tmp_path: Path) -> None:
    path = put(tmp_path / "job", JOB.replace("people.csv", "../elsewhere.csv"))
    assert load_job(path, tmp_path / "other.csv").records_path == tmp_path / "other.csv"


def test_demo_records_beside_the_layouts(tmp_path: Path) -> None:
    home = tmp_path / "layouts" / "one"
    job = JOB.replace("people.csv", "../../demo_records/people.csv")
    assert load(home, job).records_path == home / "../../demo_records/people.csv"
    (tmp_path / "demo_records").mkdir()
    (tmp_path / "demo_records" / "people.csv").write_text("lang\n")
    assert load(home, job).records_path.resolve() == tmp_path / "demo_records" / "people.csv"
    (tmp_path / "secret.csv").write_text("lang\n")
    (tmp_path / "demo_records" / "people.csv").unlink()
    (tmp_path / "demo_records" / "people.csv").symlink_to(tmp_path / "secret.csv")
    with pytest.raises(CallerError, match="leads out of the job's folder through a link"):
        load(home, job)


def test_a_job_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(CallerError) as caught:
        load_job(tmp_path / "none.yaml")
    assert str(caught.value) == f"{tmp_path}/none.yaml: there is no such file"


def test_a_job_goes_to_other_processes(tmp_path: Path) -> None:
    job = load(tmp_path)
    assert pickle.loads(pickle.dumps(job)) == job  # noqa: S301 - our own, just made


def test_sizes_in_points(tmp_path: Path) -> None:
    text = load(tmp_path, layout=item(f"text: a\n{BOX}\nsize: 11 pt\nleast: 2 mm\nleading: 0.2 in")).layout.front[0]
    assert isinstance(text, TextItem)
    assert (text.size, text.leading) == (11.0, 14.4)
    assert text.least == pytest.approx(2 * 72 / 25.4)
