"""The local page over a large run: how long any piece's picture takes, alone and with fifty clients at once.

python -m tests.benchmarks.page --records 100000

A demo's pieces are composed for its list over and over and not verified: the page reads what a verified run leaves.
`--demo ferry_pass` has artwork and a photograph on every piece, and is slow to compose.  Every picture is of a piece
that nobody asked for before.  Requests go to this machine alone and are bounded in number.
"""

from __future__ import annotations

import argparse
import asyncio
import csv
import io
import json
import os
import random
import re
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx2 as httpx

from tests.benchmarks.lap import ROOT
from tests.benchmarks.table import table
from vdp.records.setaside import write_set_aside
from vdp.run.intake import take_in
from vdp.run.make import book_of, make
from vdp.run.numbers import Numbers
from vdp.run.opening import open_job
from vdp.run.reporting import put_report

#: Milliseconds in which the median picture and every search is to be there; clients at once, and pictures that each of
#: them asks for.
TARGET, CLIENTS, EACH = 300, 50, 6
ALONE = 120


def write_list(demo: str, path: Path, count: int) -> None:
    """The demo's list, over and over, with what must be one's own for each."""
    with (ROOT / "demo_records" / f"{demo}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        for nth in range(count):
            row = rows[nth % len(rows)]
            if "member" in row:
                row = row | {"member": f"M-{nth:07d}", "street": f"{nth} {row['street']}"[:60], "seed": ""}
            writer.writerow(row)


def synthesise(demo: str, home: Path, count: int) -> Path:
    """Composes a run of that many pieces; returns the job file."""
    shutil.copytree(ROOT / "layouts" / demo, home, dirs_exist_ok=True)
    job, records = home / "job.yaml", home / "list.csv"
    write_list(demo, records, count)
    text = job.read_text("utf-8").replace(f"../../demo_records/{demo}.csv", records.name)
    job.write_text(text.replace("set_aside: stop", "set_aside: continue"), "utf-8")
    opened = open_job(job, None, os.environ)
    intake = take_in(opened.plan, opened.table, Numbers(opened.job, opened.series, {}))
    out = home / "out"
    out.mkdir(exist_ok=True)
    write_set_aside(out / "set_aside.csv", opened.table.header, intake.refused)
    book = book_of(intake.plan, opened.table, intake.pieces, {})
    made = make(intake.plan, intake.accepted(), book, out, workers=2, header=opened.table.header, tell=lambda _: None)
    put_report(out, opened, intake, made, None)
    return job


@contextmanager
def served(job: Path) -> Iterator[tuple[str, float]]:
    """The page's link, and the seconds until it can be opened."""
    begun = time.perf_counter()
    command = [sys.executable, "-m", "vdp.cli", "proof", str(job), "--serve"]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as process:
        if process.stderr is None:
            raise ValueError("the page says nothing")
        try:
            found = re.search(r"open (http\S+)", process.stderr.readline())
            if found is None:
                raise ValueError("the page did not begin")
            drain = asyncio.get_running_loop().run_in_executor(None, process.stderr.read)
            yield found[1], time.perf_counter() - begun
        finally:
            process.send_signal(signal.SIGINT)
        process.wait(20)
        drain.cancel()


async def measure(demo: str, home: Path, count: int, seed: int) -> dict[str, float]:
    """Milliseconds, and errors.  Raises ValueError when the page does not begin."""
    begun = time.perf_counter()
    job = synthesise(demo, home, count)
    told: dict[str, float] = {"composing s": time.perf_counter() - begun}
    with served(job) as (link, ready):
        told["page ready s"] = ready
        origin = link.split("/open")[0]
        async with httpx.AsyncClient(follow_redirects=True, timeout=120, base_url=origin) as client:
            begun = time.perf_counter()
            (await client.get(link)).raise_for_status()
            told["run opened s"] = time.perf_counter() - begun
            pieces = iter(random.Random(seed).sample(range(1, _count(home) + 1), ALONE + CLIENTS * EACH))
            alone = [await _picture(client, next(pieces)) for _ in range(ALONE)]
            told["picture alone, median ms"] = statistics.median(alone)
            told["picture alone, worst ms"] = max(alone)
            searches = [await _search(client, asked) for asked in _asked(home)]
            told["search, median ms"] = statistics.median(searches)
            told["search, worst ms"] = max(searches)
            shares = [[next(pieces) for _ in range(EACH)] for _ in range(CLIENTS)]
            begun = time.perf_counter()
            crowd = await asyncio.gather(*(_client(origin, client.cookies, share) for share in shares))
            took = time.perf_counter() - begun
        waits = [wait for each, _ in crowd for wait in each]
        told["pictures a second, 50 clients"] = len(waits) / took
        told["picture of 50 clients, median ms"] = statistics.median(waits)
        told["errors of 50 clients"] = sum(errors for _, errors in crowd)
    return told


def _asked(home: Path) -> list[str]:
    """What people look for: names that are there and are not, serials whole and in part, rows."""
    with (home / "list.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    field = next(name for name in ("guest", "name", "first_name") if name in rows[0])
    with (home / "out" / "pieces.jsonl").open(encoding="utf-8") as file:
        serials = list(json.loads(next(file))["serials"].values())
    names = [rows[-1][field], rows[len(rows) // 2][field][:4], "nobody of that name"]
    return [*names, *serials, *(serial[-5:] for serial in serials), "ZZ-99-ZZ", f"row {len(rows)}", "7"]


async def _search(client: httpx.AsyncClient, asked: str) -> float:
    token = re.search(r'name="token" value="(\w+)"', (await client.get("/")).text)
    fields = {"token": token[1] if token is not None else "", "asked": asked}
    begun = time.perf_counter()
    answer = await client.post("/run/1/find", data=fields, follow_redirects=False)
    if answer.status_code >= 400:
        raise ValueError(f"a search is answered by {answer.status_code}")
    return 1000 * (time.perf_counter() - begun)


def _count(home: Path) -> int:
    """How many pieces were made."""
    return int(json.loads((home / "out" / "report.json").read_bytes())["pieces"])


async def _client(origin: str, cookies: httpx.Cookies, pieces: list[int]) -> tuple[list[float], int]:
    """Looks at pieces one after another, screen and picture; waits in ms, and errors."""
    waits, errors = [], 0
    async with httpx.AsyncClient(timeout=120, base_url=origin, cookies=cookies) as client:
        for piece in pieces:
            try:
                (await client.get(f"/run/1/piece/{piece}")).raise_for_status()
                waits.append(await _picture(client, piece))
            except httpx.HTTPError:
                errors += 1
    return waits, errors


async def _picture(client: httpx.AsyncClient, piece: int) -> float:
    begun = time.perf_counter()
    answer = await client.get(f"/run/1/piece/{piece}/front.png")
    answer.raise_for_status()
    if not io.BytesIO(answer.content).read(4).endswith(b"PNG"):
        raise ValueError("that is no picture")
    return 1000 * (time.perf_counter() - begun)


def main() -> None:
    """Prints the figures; fails when the target is missed or anything went wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--records", type=int, default=100_000)
    parser.add_argument("--demo", choices=("theatre_voucher", "ferry_pass"), default="theatre_voucher")
    parser.add_argument("--seed", type=int, default=7)
    words = parser.parse_args()
    with tempfile.TemporaryDirectory() as home:
        told = asyncio.run(measure(words.demo, Path(home), words.records, words.seed))
    sys.stdout.write(table(("figure", "value"), [(name, f"{value:,.1f}") for name, value in told.items()]))
    late = max(told["picture alone, median ms"], told["search, worst ms"]) > TARGET
    if late or told["errors of 50 clients"]:
        sys.exit(1)


if __name__ == "__main__":
    main()
