"""USPS limits (STANDARDS §5: DMM 101 and 201): each limit is taken, and a thousandth of an inch beyond it is not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from vdp.press.clearance import Named
from vdp.press.letter import LETTER_CODES, MailPiece, clear_zone, clear_zone_findings, letter_findings

IN = 72.0


def mail(kind: Any, length: float, height: float, thickness: float, **more: Any) -> MailPiece:
    return MailPiece(kind, length * IN, height * IN, thickness * IN, **more)


def codes(piece: MailPiece) -> list[str]:
    findings = letter_findings(piece, "job")
    assert {finding.code for finding in findings} <= LETTER_CODES.keys()
    return [finding.code for finding in findings]


@pytest.mark.parametrize(
    "piece",
    [
        mail("letter", 9.5, 4.125, 0.02),  # a no. 10 envelope, aspect 2.30
        mail("letter", 5, 3.5, 0.007),
        mail("letter", 11.5, 6.125, 0.25),
        mail("letter", 6, 4.25, 0.007),
        mail("letter", 6.001, 4.25, 0.009),
        mail("letter", 6.5, 5, 0.009),  # aspect 1.3
        mail("letter", 10, 4, 0.009),  # aspect 2.5
        mail("card", 5, 3.5, 0.007),
        mail("card", 6, 4.25, 0.016),
        mail("self_mailer", 10.5, 6, 0.009, ounces=3.0, panels=12),
        mail("self_mailer", 5, 3.5, 0.007),
    ],
)
def test_what_the_limits_take(piece: MailPiece) -> None:
    assert codes(piece) == []


@pytest.mark.parametrize(
    ("piece", "found"),
    [
        (mail("letter", 11.501, 6.125, 0.25), ["mail-size"]),
        (mail("letter", 4.999, 3.499, 0.007), ["mail-size", "mail-size"]),
        (mail("letter", 11.5, 6.126, 0.25), ["mail-size"]),
        (mail("letter", 9.5, 4.125, 0.251), ["mail-thickness"]),
        (mail("letter", 6, 4.25, 0.0069), ["mail-thickness"]),
        (mail("letter", 6.001, 4.25, 0.0089), ["mail-thickness"]),
        (mail("letter", 6, 4.251, 0.0089), ["mail-thickness"]),
        (mail("letter", 6.499, 5, 0.009), ["mail-aspect"]),
        (mail("letter", 10.001, 4, 0.009), ["mail-aspect"]),
        (mail("card", 6.001, 4.251, 0.0161), ["mail-size", "mail-size", "mail-thickness"]),
        (mail("self_mailer", 10.501, 5, 0.009), ["mail-size"]),
        (mail("self_mailer", 9, 6, 0.009, ounces=3.01, panels=13), ["mail-weight", "mail-panels"]),
        (mail("self_mailer", 9, 6, 0.009, last_fold="left"), ["mail-panels"]),
        (mail("letter", 5, 0, 0.007), ["mail-size"]),
    ],
)
def test_what_they_refuse(piece: MailPiece, found: list[str]) -> None:
    assert codes(piece) == found


def test_the_message_has_the_figures() -> None:
    (finding,) = letter_findings(mail("self_mailer", 11, 5, 0.01), "job.yaml:3:1")
    assert finding.message == "11 in long: a self-mailer is 5 to 10.5 in long"
    assert finding.where == "job.yaml:3:1"
    thin = letter_findings(replace(mail("letter", 9.5, 4.125, 0.008)), "job")[0]
    assert thin.message == "0.0080 in thick: a letter of this size is 0.009 to 0.25 in thick"


def test_the_clear_zone_is_the_lower_right_corner() -> None:
    # 4.75 × 0.625 in at 1200 dots an inch is 5700 × 750 dots.
    side = (100, 200, 11400, 4950)
    assert clear_zone(side, 1200) == (100 + 11400 - 5700, 200, 5700, 750)
    assert clear_zone((0, 0, 3000, 500), 1200) == (0, 0, 3000, 500)
    marks = [
        Named("logo", (100, 200, 5700, 900)),
        Named("number", (5799, 900, 2, 60)),
        Named("name", (6000, 950, 9, 9)),
    ]
    (finding,) = clear_zone_findings(side, marks, 1200, "job")
    assert (finding.code, finding.message) == (
        "mail-clear-zone",
        "'number' reaches into the lower right 4.75 × 0.625 in",
    )
