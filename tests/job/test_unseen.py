"""A series whose numbers stand nowhere as text is a fault of the job, before a number is taken."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.small import BACK, FRONT, JOB, write_job
from vdp.job.load import load_job
from vdp.job.unseen import unseen

HEAD = "trim: [60 mm, 40 mm]\nbleed: 0 mm\nfront:\n"
CODE = '  - {barcode: qr, data: "{{ series.voucher }}", at: [5 mm, 5 mm], x: 0.508 mm}\n'
BARS = CODE.replace("qr", "code128").replace("x:", "height: 9 mm, human_text: HOW, x:")
BOX = "box: [5 mm, 25 mm, 40 mm, 5 mm], size: 8 pt"


@pytest.mark.parametrize(
    ("items", "seen"),
    [
        (CODE, False),
        (BARS.replace("HOW", "none"), False),
        (BARS.replace("HOW", "below"), True),
        (CODE + f"  - {{number: voucher, {BOX}}}\n", True),
        (CODE + f'  - {{text: "No. {{{{ series.voucher }}}}", plate: Clear, {BOX}}}\n', True),
        (CODE + f'  - {{text: {{en: Hello, other: "No. {{{{ series.voucher }}}}"}}, {BOX}}}\n', True),
        (CODE + f'  - {{microtext: "{{{{ series.voucher }}}} ", {BOX}}}\n', True),
        (CODE + f'  - {{text: "voucher", {BOX}}}\n', False),
    ],
)
def test_only_type_shows_a_number(items: str, seen: bool, tmp_path: Path) -> None:
    job = write_job(tmp_path, layout=HEAD + items + "back: []\n", job=JOB)
    faults = unseen(load_job(job))
    assert [fault.message for fault in faults] == (
        [] if seen else ["nothing in the layout shows the numbers of series 'voucher' as text"]
    )
    assert all(fault.where.startswith(f"{job}:") for fault in faults)


def test_the_usual_layout_shows_its_numbers(tmp_path: Path) -> None:
    assert unseen(load_job(write_job(tmp_path, layout=FRONT + BACK))) == []
