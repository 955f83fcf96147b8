"""Sheets a second, composed from finished pieces and verified, on one core.

    python -m tests.benchmarks.sheets --pieces 3000

The pieces are those of the tests' small job: two symbols and a serial on the front, one Clear symbol on the back.  A
sheet is one page; a frame, front and back, is two.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.sheeted import judged, lay_run, make_run
from vdp.press.order import arrange
from vdp.verify.serials import shape
from vdp.verify.sheetplan import read_sheet_plan
from vdp.verify.sheets import verify_sheets


def main(pieces: int, workers: int) -> None:
    with TemporaryDirectory() as home:
        small = make_run(Path(home) / "job", pieces)
        order = arrange(pieces, 3, 2, "blocks", height=25, roll_frames=100)
        lay_run(small.at(Path(shutil.copytree(small.folder, Path(home) / "warm"))), order)
        begun = time.perf_counter()
        lay_run(small, order)
        composed = time.perf_counter() - begun
        verified = _verified(small.folder, workers)
        size = (small.folder / "sheets.pdf").stat().st_size
        plain = (small.folder / "pieces.pdf").stat().st_size
        if pieces <= 600 and judged(small.folder).findings:
            sys.stderr.write("the sheets are not good\n")
    sheets = 2 * order.frames
    sys.stdout.write(
        f"{sheets} sheets of {pieces} pieces\n"
        f"composed  {sheets / composed:8.0f} sheets/s  {pieces / composed:8.0f} pieces/s\n"
        f"verified  {sheets / verified:8.0f} sheets/s  {pieces / verified:8.0f} pieces/s  ({workers} workers)\n"
        f"size      {size / plain:8.2f} of pieces.pdf\n"
    )


def _verified(folder: Path, workers: int) -> float:
    report = json.loads((folder / "report.json").read_bytes())
    lines = (folder / "pieces.jsonl").read_text("utf-8").splitlines()
    first, last = json.loads(lines[0]), json.loads(lines[-1])
    pattern = shape(first["serials"]["voucher"], last["serials"]["voucher"]).pattern
    plan = read_sheet_plan(report["sheets"], report["resolution"])
    begun = time.perf_counter()
    told = verify_sheets(folder / "pieces.jsonl", plan, ("Clear",), {"voucher": pattern}, 1, lambda _: None, workers)
    if told.findings:
        sys.stderr.write(f"{told.findings[:3]}\n")
    return time.perf_counter() - begun


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--pieces", type=int, default=1200)
    parser.add_argument("--workers", type=int, default=1)
    asked = parser.parse_args()
    main(asked.pieces, asked.workers)
