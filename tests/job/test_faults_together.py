"""Faults that span several keys or both files, all told at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job.made import BOX, JOB, LAYOUT, item, put, told
from vdp.errors import CallerError
from vdp.job.load import load_job


def test_one_name_for_two_items(tmp_path: Path) -> None:
    layout = LAYOUT.replace("  - text:", "  - name: who\n    text:").replace(
        "  - number:", "  - name: who\n    number:"
    )
    assert told(tmp_path, layout=layout) == ["layout.yaml:9:11: the name 'who' is used twice (give each item its own)"]


def test_one_text_per_language_needs_the_language(tmp_path: Path) -> None:
    job = JOB.replace("  language: lang\n", "")
    assert told(tmp_path, job, item(f"text: {{en: a}}\n{BOX}")) == [
        (
            "layout.yaml:3:11: one text per language, but the job names no field for the language "
            "(name it in the job: records: language:)"
        )
    ]


def test_languages_where_the_job_lists_none(tmp_path: Path) -> None:
    job = JOB.replace("    lang: {one_of: [en, de, el]}\n", "") + "locales: {klingon: de}\n"
    assert told(tmp_path, job, item(f"text: {{en: a, klingon: b, klingo: c, zz: d}}\n{BOX}")) == [
        "layout.yaml:3:31: 'klingo' is not a language (did you mean 'klingon'?)",
        "layout.yaml:3:42: 'zz' is not a language",
    ]


def test_a_field_named_like_a_word_of_templates(tmp_path: Path) -> None:
    job = JOB.replace("    travel:", "    row: {required: true}\n    language: {}\n    travel:")
    layout = item(f"text: '{{{{ row }}}} {{{{ language }}}} {{{{ field[\"row\"] }}}}'\n{BOX}")
    assert told(tmp_path, job, layout) == [
        (
            "layout.yaml:3:11: 'language' is a template's own word, and the records have a field of that name "
            '(write field["language"] for the field)'
        ),
        (
            "layout.yaml:3:11: 'row' is a template's own word, and the records have a field of that name "
            '(write field["row"] for the field)'
        ),
    ]
    # Where the field is the language's, both mean the same.
    job = JOB.replace("language: lang", "language: language").replace("    lang:", "    language:")
    assert told(tmp_path, job, item(f"text: '{{{{ language }}}}'\n{BOX}")) == []


def test_every_fault_of_both_files_at_once(tmp_path: Path) -> None:
    job = JOB.replace("width: 6", "width: x").replace("job: Test", "job: 1")
    layout = LAYOUT.replace("11 pt", "11").replace("number: main", "number: mane").replace("{{ name }}", "{{ a.b }}")
    assert [fault.split(": ", 1)[0] for fault in told(tmp_path, job, layout)] == [
        "job.yaml:1:6",
        "job.yaml:10:29",
        "layout.yaml:4:11",
        "layout.yaml:6:11",
        "layout.yaml:8:13",
    ]


def test_a_layout_that_is_not_yaml_hides_no_fault_of_the_job(tmp_path: Path) -> None:
    assert [fault.split(": ", 1)[0] for fault in told(tmp_path, JOB.replace("Test", "1"), "a: [\n")] == [
        "job.yaml:1:6",
        "layout.yaml:2:1",
    ]


def test_a_layout_that_is_empty(tmp_path: Path) -> None:
    assert told(tmp_path, layout="# nothing\n") == ["layout.yaml:1:1: the file is empty"]


def test_yaml_1_2_words_are_texts(tmp_path: Path) -> None:
    job = JOB.replace("[en, de, el]", "[no, yes, on]") + "locales: {no: nb, yes: en, on: fr}\n"
    layout = item(f"text: {{no: Hei, yes: Hello, on: Salut}}\n{BOX}")
    assert told(tmp_path, job, layout) == []


def test_an_alias_is_told_where_it_is_written(tmp_path: Path) -> None:
    layout = f"trim: [9 mm, 9 mm]\nfront:\n  - &a {{text: x, {BOX}, size: 3}}\nback: [*a]\n"
    assert told(tmp_path, layout=layout) == ["layout.yaml:3:49: 'size': 3 has no unit: write '3 mm', '3 in' or '3 pt'"]


def test_files_are_named_as_the_caller_named_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path, JOB.replace("Test", "1"), LAYOUT.replace("11 pt", "11"))
    monkeypatch.chdir(tmp_path)
    with pytest.raises(CallerError) as caught:
        load_job(Path("job.yaml"))
    assert [fault.where for fault in caught.value.faults] == ["job.yaml:1:6", "layout.yaml:6:11"]
