"""Invented records: the hints, the rules they keep, and that the same seed gives the same bytes."""

from __future__ import annotations

import csv
import io
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.errors import CallerError
from vdp.fake import fake_lines, fake_rows, write_fake
from vdp.job.load import Job, load_job
from vdp.records.rules import RowRules
from vdp.records.spec import Records
from vdp.records.table import open_table

LOCALES = {"en": "en_GB", "el": "el_GR", "ar": "ar_EG"}
DEMO = Path(__file__).parent.parent / "layouts" / "ferry_pass" / "job.yaml"


def spec(fields: dict[str, Any], **more: Any) -> Records:
    return Records.model_validate({"file": "list.csv", "fields": fields, **more})


def drawn(fields: dict[str, Any], count: int = 40, seed: int = 1, **more: Any) -> list[dict[str, str]]:
    return list(fake_rows(spec(fields, **more), count, seed, LOCALES))


def column(hint: Any, count: int = 40, **rule: Any) -> list[str]:
    return [row["x"] for row in drawn({"x": {"fake": hint, **rule}}, count)]


def refused(fields: dict[str, Any], **more: Any) -> str:
    with pytest.raises(CallerError) as caught:
        drawn(fields, **more)
    return str(caught.value)


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(DEMO)


def test_each_kind_of_hint_gives_what_it_says() -> None:
    assert set(column({"text": "PIER 4"})) == {"PIER 4"}
    assert set(column({"one_of": ["a", "b", 3]})) == {"a", "b", "3"}
    assert set(column({"weighted": {"a": 1, "b": 0}})) == {"a"}
    assert all(re.fullmatch(r"[A-Z]{2}-\d{4}", text) for text in column({"pattern": "??-####"}))
    assert {int(text) for text in column({"int": {"from": 3, "to": 5}})} == {3, 4, 5}
    assert all(
        re.fullmatch(r"[ab]/\d", text)
        for text in column({"join": [{"one_of": ["a", "b"]}, {"pattern": "#"}], "by": "/"})
    )
    assert set(column({"any": [{"text": "a"}, {"text": "b"}]})) == {"a", "b"}
    assert len(set(column({"provider": "name"}))) > 20


def test_weights_are_kept() -> None:
    values = column({"weighted": {"a": 75, "b": 25}}, 2000)
    assert 1400 < values.count("a") < 1600  # 1500 expected, standard deviation 19


def test_dates_stay_between_both_ends_and_follow_the_field_pattern() -> None:
    values = column({"date": {"from": "2027-03-30", "to": "2027-04-02"}}, date="%d.%m.%Y")
    assert set(values) == {"30.03.2027", "31.03.2027", "01.04.2027", "02.04.2027"}
    assert set(column({"date": {"from": "2027-03-30", "to": "2027-03-30"}})) == {"2027-03-30"}


def test_share_leaves_fields_empty_and_twice_makes_them_long() -> None:
    values = column({"pattern": "##", "share": 30}, 2000)
    assert 500 < sum(bool(text) for text in values) < 700  # 600 expected, standard deviation 20
    assert set(column({"text": "so", "twice": 100})) == {"so so"}


def test_values_follow_the_language_of_the_row() -> None:
    rows = drawn(
        {
            "greeting": {"fake": {"each": {"en": {"text": "hello"}, "other": {"text": "other"}}}},
            "language": {"fake": {"weighted": {"en": 1, "el": 1, "ar": 1}}},
            "name": {"fake": "first_name"},
        },
        language="language",
    )
    assert list(rows[0]) == ["greeting", "language", "name"], "the fields keep their order"
    scripts = {"en": "[A-Za-z-]", "el": "[\\u0370-\\u03ff-]", "ar": "[\\u0600-\\u06ff ]"}
    for row in rows:
        assert row["greeting"] == ("hello" if row["language"] == "en" else "other")
        assert re.match(scripts[row["language"]], row["name"]), row
    assert {row["language"] for row in rows} == set(LOCALES)


def test_a_locale_without_names_lends_them_from_its_own_language_only() -> None:
    # Faker has no names for ar_EG and quietly gives English ones; they must not be taken for Arabic.
    rows = drawn({"language": {"one_of": ["ar"]}, "name": {"fake": "last_name"}}, language="language")
    assert not any(re.search("[A-Za-z]", row["name"]) for row in rows)
    # Nor is there an own one, or one of the same language, for this invented locale.
    with pytest.raises(CallerError, match="no provider 'last_name' for 'qq_QQ'"):
        list(fake_rows(spec({"name": {"fake": "last_name"}}, language="tongue"), 1, 1, {"qq": "qq_QQ"}))


def test_rules_are_kept() -> None:
    names = column("name", 300, length=[10, 14], pattern=r"[A-Z][a-z]+ [A-Z][a-z]+")
    assert all(10 <= len(name) <= 14 for name in names)
    assert sorted(column({"pattern": "#"}, 10, unique=True)) == list("0123456789")
    assert set(column({"one_of": ["a", "b"]}, one_of=["b"])) == {"b"}
    assert "" not in column({"text": "a", "share": 50}, required=True)


def test_recipients_are_not_repeated() -> None:
    fields = {"a": {"fake": {"one_of": ["x", "X", "y"]}}, "b": {"fake": {"one_of": ["1", "2"]}}}
    rows = drawn(fields, 4, recipient=["a", "b"])
    assert {(row["a"].casefold(), row["b"]) for row in rows} == {("x", "1"), ("x", "2"), ("y", "1"), ("y", "2")}
    assert "500 tries gave no recipient" in refused(fields, recipient=["a", "b"], count=5)


def test_fields_without_hint_are_drawn_from_their_rule_or_left_empty() -> None:
    rows = drawn({"a": {"one_of": ["p", "q"]}, "b": {}}, language="tongue", seeds="decoy")
    assert list(rows[0]) == ["a", "b", "tongue", "decoy"]
    assert {row["a"] for row in rows} == {"p", "q"}
    assert {row["b"] for row in rows} == {row["decoy"] for row in rows} == {""}
    assert {row["tongue"] for row in rows} == set(LOCALES)


def test_text_on_two_lines_becomes_one() -> None:
    streets = column("street_address", 200)
    assert any(", " in street for street in streets)
    assert not any("\n" in street for street in streets)


@pytest.mark.parametrize(
    ("hint", "said"),
    [
        ("nmae", "no provider 'nmae' for 'en_GB'"),
        ("_lookup", "no provider"),
        ("locales", "no provider"),
        ("phone_number", "could reach somebody"),
        ("company_email", "could reach somebody"),
        ({"provider": "company"}, "could reach somebody"),
        ({"provider": "first_name", "locale": "xx_XX"}, "no provider 'first_name' for 'xx_XX'"),
        ({"patern": "#"}, "did you mean 'pattern'?"),
        ({"zzz": 1}, "a hint is one of"),
        ({"share": 5}, "exactly one kind"),
        ({"text": "a", "pattern": "b"}, "exactly one kind"),
        ({"one_of": []}, "a list with at least one entry"),
        ({"weighted": ["a"]}, "a mapping with at least one entry"),
        ({"weighted": {"a": -1}}, "weights are 0 or more"),
        ({"weighted": {"a": 0}}, "weights are 0 or more"),
        ({"weighted": {"a": "many"}}, "could not convert"),
        ({"int": {"from": 5, "to": 4}}, "5 is above 4"),
        ({"int": {"to": 4}}, "'from' is missing"),
        ({"int": 7}, "int cannot be used"),
        ({"date": {"from": "2027-02-30", "to": "2027-03-01"}}, "date cannot be used"),
        ({"date": {"from": "2027-03-02", "to": "2027-03-01"}}, "2027-03-02 is after 2027-03-01"),
        ({"text": "a", "share": 101}, "percentage"),
        ({"text": "a", "twice": "x"}, "could not convert"),
        ({"join": [{"text": "a"}, 7]}, "'7' is not a hint"),
        ({"each": {"en": {"text": "a"}}}, "'en' is not a language of the job"),
    ],
)
def test_a_hint_that_cannot_be_used_is_told(hint: Any, said: str) -> None:
    # A field rule takes texts and mappings; anything else is refused before it gets here.
    assert said in refused({"x": {"fake": hint}})


def test_every_hint_at_fault_is_told_at_once() -> None:
    said = refused({"a": {"fake": "nmae"}, "b": {"fake": {"int": 1}}, "c": {"required": True}, "d": {"fake": "name"}})
    assert [line.split(":")[0] for line in said.splitlines()] == [
        "the job, field a",
        "the job, field b",
        "the job, field c",
    ]


def test_each_needs_every_language() -> None:
    fields = {"language": {"one_of": ["en", "el"]}, "x": {"fake": {"each": {"en": {"text": "a"}}}}}
    assert "there is no hint for 'el'" in refused(fields, language="language")


def test_rules_that_leave_nothing_to_draw_are_told() -> None:
    assert "500 tries gave no value" in refused({"x": {"fake": {"pattern": "##"}, "pattern": "[A-Z]+"}})
    assert "500 tries gave no value" in refused({"x": {"fake": {"text": "a"}, "unique": True}}, count=2)
    assert "500 tries gave no value" in refused({"x": {"fake": {"text": "soon"}, "date": "%Y-%m-%d"}})
    assert "-1 records" in refused({"x": {"fake": "name"}}, count=-1)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(), count=st.integers(0, 12))
def test_rows_of_the_demo_are_as_asked_and_keep_its_rules(seed: int, count: int) -> None:
    job = load_job(DEMO)
    rows = list(csv.DictReader(io.StringIO("".join(fake_lines(job, count, seed)))))
    assert len(rows) == count
    assert rows == list(csv.DictReader(io.StringIO("".join(fake_lines(job, count, seed)))))


def test_a_longer_list_begins_with_the_shorter_one(demo: Job) -> None:
    assert list(fake_lines(demo, 20, 3)) == list(fake_lines(demo, 40, 3))[:21]
    assert list(fake_lines(demo, 20, 3)) != list(fake_lines(demo, 20, 4))


def test_the_file_reads_back_clean(demo: Job, tmp_path: Path) -> None:
    out = tmp_path / "list.csv"
    write_fake(demo, 120, 11, out)
    assert out.read_bytes().decode() == "".join(fake_lines(demo, 120, 11))
    table = open_table(out, demo.model.records, "list.csv")
    rules = RowRules(demo.model.records, table.header, "list.csv")
    assert [rules.judge(row) for row in table.rows()] == [([], [])] * 120
    assert [path.name for path in tmp_path.iterdir()] == ["list.csv"], "nothing half-made is left"


def test_the_same_bytes_in_another_process(demo: Job) -> None:
    script = (
        "import sys; from pathlib import Path; from vdp.fake import write_fake; from vdp.job.load import load_job;"
        "write_fake(load_job(Path(sys.argv[1])), 25, 5, None)"
    )
    made = [
        subprocess.run(
            [sys.executable, "-c", script, str(DEMO)],
            check=True,
            capture_output=True,
            env={**os.environ, "PYTHONHASHSEED": salt, "LC_ALL": "C"},
        ).stdout
        for salt in ("1", "2")
    ]
    assert made[0] == made[1] == "".join(fake_lines(demo, 25, 5)).encode()


def test_a_file_that_cannot_be_written_is_the_callers_fault(demo: Job, tmp_path: Path) -> None:
    with pytest.raises(CallerError, match="cannot be written"):
        write_fake(demo, 1, 1, tmp_path / "no such folder" / "list.csv")


def test_a_list_that_is_there_is_never_written_over(demo: Job, tmp_path: Path) -> None:
    (tmp_path / "guests.csv").write_text("name\n")
    with pytest.raises(CallerError, match=r"guests\.csv: is there already, and may be a list of real people"):
        write_fake(demo, 1, 1, tmp_path / "guests.csv")
    assert (tmp_path / "guests.csv").read_text() == "name\n"


def test_a_fault_of_the_job_is_told_with_its_place(tmp_path: Path) -> None:
    for name in ("job.yaml", "layout.yaml"):
        text = (DEMO.parent / name).read_text(encoding="utf-8").replace('{pattern: "M-######"}', "nmae")
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "art").mkdir()
    for name in ("front.pdf", "back.pdf", "press.icm"):
        (tmp_path / "art" / name).write_bytes((DEMO.parent / "art" / name).read_bytes())
    with pytest.raises(CallerError, match=r"job\.yaml:\d+:\d+: fake: no provider 'nmae'"):
        write_fake(load_job(tmp_path / "job.yaml"), 1, 1, tmp_path / "list.csv")


def test_without_a_file_it_goes_to_standard_output(demo: Job, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    write_fake(demo, 3, 5, None)
    assert capsysbinary.readouterr().out == "".join(fake_lines(demo, 3, 5)).encode()
