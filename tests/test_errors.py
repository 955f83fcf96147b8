"""The exception tree and what it says."""

from __future__ import annotations

import pytest

from vdp.errors import CallerError, Fault, Finding, OurBug, RowRefused, VdpError


def test_fault_says_where_what_and_what_to_do() -> None:
    assert str(Fault("job.yaml:3:5", "unknown key 'sise'", "did you mean 'size'?")) == (
        "job.yaml:3:5: unknown key 'sise' (did you mean 'size'?)"
    )
    assert str(Fault("job.yaml:3:5", "is empty")) == "job.yaml:3:5: is empty"


def test_caller_error_carries_every_fault() -> None:
    faults = [Fault("a:1:1", "one"), Fault("b:2:2", "two")]
    error = CallerError(iter(faults))
    assert error.faults == tuple(faults)
    assert str(error) == "a:1:1: one\nb:2:2: two"


def test_caller_error_of_one() -> None:
    assert CallerError.one("a:1:1", "one", "mend").faults == (Fault("a:1:1", "one", "mend"),)


def test_row_refused_carries_every_reason() -> None:
    error = RowRefused(reason for reason in ("first", "second"))
    assert error.reasons == ("first", "second")
    assert str(error) == "first; second"


def test_finding_as_json() -> None:
    assert Finding("code-missing", "page 3", "nothing decodes").as_json() == {
        "code": "code-missing",
        "where": "page 3",
        "message": "nothing decodes",
    }


@pytest.mark.parametrize("kind", [CallerError, RowRefused, OurBug])
def test_everything_is_a_vdp_error(kind: type[Exception]) -> None:
    assert issubclass(kind, VdpError)
    assert not issubclass(kind, tuple(k for k in (CallerError, RowRefused, OurBug) if k is not kind))
