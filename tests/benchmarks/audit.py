"""How long sealing and auditing take: `python -m tests.benchmarks.audit [--pieces 1000000] [--runs 20]`.

Manifests are written, not composed; the other files of each folder are those of one small run, so pages are not
decoded.  Each run has its own stretch of one series, and the sealed data is there: every public line is held
against its piece.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import resource
import shutil
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.small import JOB, write_job
from vdp.audit.proof import judge_proof
from vdp.audit.strict import written as written_proof
from vdp.checkdigit import check
from vdp.run import run_job
from vdp.run.audit import audit_runs
from vdp.run.desk import Desk
from vdp.run.folder import sha256_of
from vdp.run.identity import identity_of
from vdp.run.screen import Screen
from vdp.run.sealing import make_key, prove, read_public, seal_run

_PROOFS = 500
QUIET = Screen(io.StringIO())
DESK = Desk("anna", lambda: datetime(2026, 3, 1, tzinfo=UTC), {})


def written(folder: Path, model: Path, nth: int, pieces: int) -> None:
    """A run folder of `pieces` numbers from nth * pieces on."""
    shutil.copytree(model, folder)
    report: dict[str, Any] = json.loads((folder / "report.json").read_bytes())
    first = json.loads((folder / "pieces.jsonl").read_text("utf-8").splitlines()[0])
    with (folder / "pieces.jsonl").open("w", encoding="utf-8") as file:
        for at in range(pieces):
            number = f"{7 + nth * pieces + at:07d}"
            serial = f"V{number}{check('damm', number)}"
            symbols = [{**symbol, "page": 2 * at + 1, "data": f"{serial}/Guest {at}"} for symbol in first["symbols"]]
            sha256 = hashlib.sha256(serial.encode()).hexdigest()
            line = {**first, "piece": at + 1, "row": at + 2, "serials": {"voucher": serial}, "symbols": symbols}
            line["sha256"] = sha256
            file.write(json.dumps(line, ensure_ascii=False, separators=(",", ":")) + "\n")
    report["inputs"]["records"]["sha256"] = hashlib.sha256(str(nth).encode()).hexdigest()
    report["run"] = identity_of(report["inputs"]).hex()
    report["ledger"]["series"]["voucher"].update(first=nth * pieces, count=pieces)
    report.update(records=pieces, pieces=pieces)
    report["files"]["pieces.jsonl"] = sha256_of(folder / "pieces.jsonl")
    (folder / "report.json").write_text(json.dumps(report), "utf-8")


def told_proof(folder: Path, key: Path) -> None:
    """How large the proof for a piece is, and how long it takes to judge it."""
    proof, public = written_proof(prove([folder], f"V0000007{check('damm', '0000007')}")), read_public(key)
    begun = time.process_time()
    assert all(judge_proof(proof, public) for _ in range(_PROOFS))
    spent = (time.process_time() - begun) / _PROOFS * 1000
    print(f"a proof of {len(proof):,} bytes is judged in {spent:.2f} ms")  # noqa: T201  its figures are what a benchmark is for


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    options.add_argument("--pieces", type=int, default=1_000_000)
    options.add_argument("--runs", type=int, default=20)
    said = options.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        home = Path(scratch)
        job = write_job(home, job=JOB.replace("width: 4", "width: 7"))
        assert run_job(job, records=None, out=home / "model", workers=1, screen=QUIET, desk=DESK).ok
        make_key(home / "press.key")
        folders = [home / f"run{nth}" for nth in range(said.runs)]
        for nth, folder in enumerate(folders):
            written(folder, home / "model", nth, said.pieces // said.runs)
        begun, used = time.monotonic(), time.process_time()
        for folder in folders:
            seal_run(folder, home / "press.key")
        print(f"sealing: {time.monotonic() - begun:.1f} s, {time.process_time() - used:.1f} s of one processor")  # noqa: T201  its figures are what a benchmark is for
        told_proof(folders[0], home / "press.key.public")
        for what in ("with data", "without data"):
            begun, used = time.monotonic(), time.process_time()
            audit = audit_runs(
                folders,
                key=home / "press.key.public",
                ledgers=[],
                decode=False,
                workers=1,
                out=home / "filed",
                screen=QUIET,
                desk=DESK,
            )
            spent = f"{time.monotonic() - begun:.1f} s, {time.process_time() - used:.1f} s of one processor"
            counts = f"{audit.serials:,} serials, {audit.serials_unique:,} different, {len(audit.findings)} findings"
            print(f"auditing {what}: {spent}; {counts}")  # noqa: T201  its figures are what a benchmark is for
            for folder in folders:
                (folder / "pieces.jsonl").unlink(missing_ok=True)
                (folder / "pieces.salts").unlink(missing_ok=True)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"peak {peak:,.0f} MB")  # noqa: T201  its figures are what a benchmark is for


if __name__ == "__main__":
    main()
