"""Whatever stands in the files, it is a Job or a CallerError with places; never anything else."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from tests.job.made import JOB, LAYOUT, put
from vdp.errors import CallerError
from vdp.job.document import read_document
from vdp.job.faults import faults_of
from vdp.job.load import load_job
from vdp.records.spec import Model

KEYS = [
    "job",
    "layout",
    "records",
    "file",
    "language",
    "fields",
    "one_of",
    "date",
    "fake",
    "spots",
    "Clear",
    "shown_as",
    "series",
    "main",
    "width",
    "check",
    "locales",
    "faces",
    "colour",
    "profile",
    "trim",
    "bleed",
    "front",
    "back",
    "text",
    "box",
    "size",
    "least",
    "plate",
    "number",
    "barcode",
    "data",
    "at",
    "x",
    "height",
    "level",
    "image",
    "microtext",
    "line",
    "start",
    "end",
    "art",
    "when",
    "name",
    "turn",
    "tint",
]
LEAVES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(
        ["3 mm", "0", "Clear", "main", "{{ name }}", "{{ a.b }}", "qr", "code128", "layout.yaml", "../x", "en"]
    ),
    st.text(st.characters(codec="utf-8", min_codepoint=32), max_size=8),
)
ANYTHING = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.sampled_from(KEYS) | st.text("ab<>[]?", max_size=4), inner, max_size=5),
    ),
    max_leaves=20,
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(where=st.sampled_from(["job", "layout"]), key=st.sampled_from(KEYS), value=ANYTHING)
def test_any_value_under_any_key(tmp_path: Path, where: str, key: str, value: Any) -> None:
    good = {name: YAML(typ="safe", pure=True).load(text) for name, text in (("job", JOB), ("layout", LAYOUT))}
    good[where][key] = value
    # JSON is YAML 1.2, so a JSON writer is an independent way to write any value.
    path = put(tmp_path, json.dumps(good["job"]), json.dumps(good["layout"]))
    try:
        load_job(path)
    except CallerError as error:
        assert error.faults  # noqa: PT017 - either way out is right
        assert all(re.search(r"\.yaml:\d+:\d+\Z", fault.where) for fault in error.faults)  # noqa: PT017 - as above


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(st.sampled_from("ab:-[]{}&*!|>'\"%@`#,? \n\t\\0~"), max_size=25))
def test_any_text_is_read_or_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a.yaml"
    path.write_text(text)
    try:
        read_document(path, "a.yaml")
    except CallerError as error:
        assert all(re.match(r"a\.yaml:\d+:\d+\Z", fault.where) for fault in error.faults)  # noqa: PT017 - as above


def test_an_error_of_yaml_without_a_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise YAMLError("something else")

    monkeypatch.setattr(YAML, "parse", fail)
    (tmp_path / "a.yaml").write_text("a: 1")
    with pytest.raises(CallerError, match=r"a\.yaml:1:1: not YAML: something else"):
        read_document(tmp_path / "a.yaml", "a.yaml")


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    (tmp_path / "a.yaml").write_text("a: 1")
    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(CallerError, match=r"a\.yaml: cannot be read: \[Errno 13\] Permission denied"):
        read_document(tmp_path / "a.yaml", "a.yaml")


def test_what_pydantic_says_otherwise_is_passed_on(tmp_path: Path) -> None:
    class Odd(Model):
        size: complex

    (tmp_path / "a.yaml").write_text("size: x\n")
    document = read_document(tmp_path / "a.yaml", "a.yaml")
    with pytest.raises(ValidationError) as caught:
        Odd.model_validate(document.data)
    faults = faults_of(document, Odd, caught.value)
    assert [fault.where for fault in faults] == ["a.yaml:1:7"]
    assert faults[0].message.startswith("'size': input should be a valid python complex object")
