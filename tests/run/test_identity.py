"""A run's identity and date come from its inputs, never from the clock."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.small import JOB, LIST, plan_of, write_job
from vdp.errors import CallerError
from vdp.run.identity import created_of, faces_of, identity_of, inputs_of


def identity(folder: Path, **more: str) -> bytes:
    job, table, plan = plan_of(write_job(folder, **more))
    return identity_of(inputs_of(job, table, plan, []))


def test_the_same_inputs_in_another_folder_are_the_same_run(tmp_path: Path) -> None:
    assert identity(tmp_path / "a") == identity(tmp_path / "b")


@pytest.mark.parametrize("changed", [{"job": JOB + "# more\n"}, {"records": LIST + "Eva,en\n"}])
def test_any_changed_input_is_another_run(tmp_path: Path, changed: dict[str, str]) -> None:
    assert identity(tmp_path / "a") != identity(tmp_path / "b", **changed)


def test_pictures_and_profile_are_inputs(tmp_path: Path) -> None:
    path = write_job(tmp_path, job=JOB + "colour: {profile: press.icm}\n")
    (tmp_path / "press.icm").write_bytes(b"profile")
    (tmp_path / "a.jpg").write_bytes(b"picture")
    elsewhere = tmp_path.parent / "elsewhere.jpg"
    elsewhere.write_bytes(b"other")
    job, table, plan = plan_of(path)
    inputs = inputs_of(job, table, plan, [tmp_path / "a.jpg", elsewhere])
    assert set(inputs["images"]) == {"a.jpg", "elsewhere.jpg"}
    assert inputs["profile"]["name"] == "press.icm"


def test_dates_come_from_the_environment_then_the_job_then_nowhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    dateless = plan_of(write_job(tmp_path / "a"))[0]
    dated = plan_of(write_job(tmp_path / "b", job=JOB + 'date: "2027-01-15"\n'))[0]
    assert created_of(dateless) == datetime(2000, 1, 1, tzinfo=UTC)
    assert created_of(dated) == datetime(2027, 1, 15, tzinfo=UTC)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    assert created_of(dated) == datetime(1970, 1, 2, tzinfo=UTC)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "tomorrow")
    with pytest.raises(CallerError, match="'tomorrow' is not a number of seconds"):
        created_of(dated)


def test_faces_are_told_with_their_source(tmp_path: Path) -> None:
    job = plan_of(write_job(tmp_path))[0]
    told = faces_of(job, {"NotoSans-Bold": "sans-bold"})["NotoSans-Bold"]
    assert told["face"] == "sans-bold"
    assert told["axes"]["wght"] == 700
    assert len(told["sha256"]) == 64
