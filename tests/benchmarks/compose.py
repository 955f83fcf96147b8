"""Composing the reference letter, `vdp` against general-purpose means, one after another on the same core.

    python -m tests.benchmarks.compose --records 10000
    python -m tests.benchmarks.compose --records 100000 --only straight,tuned-lent,vdp

A contestant whose file has the wrong number of pages, or a wrong piece among 200, has no time.  Where the rivals do
not keep their distances from each other, the table is void: one of them was held back.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from subprocess import CalledProcessError
from typing import Any, cast

from tests.benchmarks.contestants import CONTESTANTS, JUDGED
from tests.benchmarks.judge import judge
from tests.benchmarks.lap import Clock, Lap, pin, run_lap
from tests.benchmarks.letter.job import make_job
from tests.benchmarks.letter.records import make_records
from tests.benchmarks.table import megabytes, table
from tests.benchmarks.whole import help_ratio, whole_ratio


@dataclass(frozen=True, slots=True)
class Target:
    """A ratio that is to be reached.  `measured` is None where a contestant it needs took no part."""

    says: str
    least: float
    measured: float | None

    @property
    def verdict(self) -> str:
        if self.measured is None:
            return "not measured"
        return "pass" if self.measured >= self.least else "FAIL"


def ratio(laps: Mapping[str, Lap], ahead: str, behind: str, clock: Clock) -> float | None:
    """How many times as many records a second one makes as another."""
    if ahead not in laps or behind not in laps:
        return None
    return laps[ahead].rate(clock) / laps[behind].rate(clock)


def fairness(laps: Mapping[str, Lap], clock: Clock) -> list[Target]:
    """Distances between rivals, as they were measured when the targets were set (23 and 3.7), with some room."""
    return [
        Target("(b) with the lent QR encoder is so many times (a)", 18, ratio(laps, "tuned-lent", "straight", clock)),
        Target("(d) is so many times (a)", 3, ratio(laps, "typeset", "straight", clock)),
    ]


def targets(laps: Mapping[str, Lap], clock: Clock) -> list[Target]:
    """What `vdp` is to reach over each rival."""
    over_a = ratio(laps, "vdp", "straight", clock)
    found = [
        Target("vdp over (a)", 100, over_a),
        Target("vdp over (b) with the lent QR encoder", 5, ratio(laps, "vdp", "tuned-lent", clock)),
        Target("vdp over (c)", 400, ratio(laps, "vdp", "overlay", clock)),
        Target("vdp over (d)", 30, ratio(laps, "vdp", "typeset", clock)),
    ]
    if "vdp" in laps and laps["vdp"].records >= 100_000:
        found.append(Target("vdp over (a), 5,000 records for every 34", 5000 / 34, over_a))
    return found


def run(arguments: argparse.Namespace, home: Path) -> dict[str, Any]:
    """Runs and judges everyone; returns what ``--json`` prints."""
    clock = cast("Clock", arguments.clock)
    make_job(home, 1)
    laps: dict[str, Lap] = {}
    wrong: dict[str, list[str]] = {}
    for name in arguments.only:
        count = arguments.records if name.startswith("vdp") else arguments.rivals_records
        records = home / f"records-{count}.csv"
        make_records(count, records)
        out = home / f"{name}.pdf"
        sys.stderr.write(f"{CONTESTANTS[name].title.strip()}, {count:,} records\n")
        try:
            lap = run_lap(name, home, records, count, out)
        except CalledProcessError as failed:
            wrong[name] = [f"it stopped with exit code {failed.returncode}"]
            continue
        if faults := judge(out, home, records, count):
            wrong[name] = faults
        else:
            laps[name] = lap
        out.unlink()
    fair, goals = fairness(laps, clock), targets(laps, clock)
    if arguments.whole:
        make_records(300, home / "records-300.csv")
        goals.append(Target("time of (a) composing 300 over vdp composing and verifying them", 1, whole_ratio(home)))
        goals.append(Target("twice the time of importing typer and rich over vdp --help", 1, help_ratio()))
    return {
        "clock": clock,
        "void": any(target.verdict == "FAIL" for target in fair),
        "wrong": wrong,
        "laps": [
            lap._asdict() | {"rate": lap.rate(clock), "bytes_per_record": lap.size / lap.records}
            for lap in laps.values()
        ],
        "fairness": [asdict(target) | {"verdict": target.verdict} for target in fair],
        "targets": [asdict(target) | {"verdict": target.verdict} for target in goals],
    }


def told(found: Mapping[str, Any]) -> str:
    """The tables."""
    best = {lap["name"]: lap for lap in found["laps"]}
    vdp = best.get("vdp")
    rows = [
        (
            CONTESTANTS[name].title,
            f"{lap['records']:,}",
            f"{lap['rate']:,.0f}",
            f"{vdp['rate'] / lap['rate']:,.1f}" if vdp else "–",
            f"{lap['bytes_per_record']:,.0f}",
            megabytes(lap["peak"]),
            f"{lap['cpu'] / lap['wall']:.2f}",
        )
        for name, lap in best.items()
    ]
    head = ("contestant", "records", "records/s", "vdp is × faster", "bytes/record", "peak MB", "core's share")
    text = table(head, rows) + "\n"
    text += "".join(f"{CONTESTANTS[name].title}: NO TIME, {faults[0]}\n" for name, faults in found["wrong"].items())
    for title, key in (("fairness", "fairness"), ("target", "targets")):
        goals = [
            (
                goal["says"],
                f"≥ {goal['least']:,.0f}",
                "–" if goal["measured"] is None else f"{goal['measured']:,.1f}",
                goal["verdict"],
            )
            for goal in found[key]
        ]
        text += table((title, "ratio", "measured", ""), goals) + "\n"
    if found["void"]:
        text += "table void: a rival was held back\n"
    return text


def main(words: Sequence[str] | None = None) -> int:
    """Returns 0 when every file is right, the table stands and no target was missed; else 1."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.compose", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--records", type=int, default=10_000, help="records that vdp composes")
    parser.add_argument("--rivals-records", type=int, default=1_000, help="records that each rival composes")
    parser.add_argument("--only", type=lambda text: text.split(","), default=list(JUDGED), help="names, by commas")
    parser.add_argument("--clock", choices=("wall", "cpu"), default="wall", help="cpu where the core is shared")
    parser.add_argument("--core", type=int, default=0)
    parser.add_argument("--no-whole", dest="whole", action="store_false", help="leave whole processes out")
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args(words)
    if unknown := set(arguments.only) - set(JUDGED):
        parser.error(f"no contestant is called {', '.join(sorted(unknown))}: {', '.join(JUDGED)}")
    pin(arguments.core)
    with tempfile.TemporaryDirectory(prefix="letter-") as home:
        found = run(arguments, Path(home))
    sys.stdout.write(json.dumps(found, ensure_ascii=False) + "\n" if arguments.json else told(found))
    missed = any(target["verdict"] == "FAIL" for target in (*found["fairness"], *found["targets"]))
    return int(missed or bool(found["wrong"]))


if __name__ == "__main__":
    sys.exit(main())
