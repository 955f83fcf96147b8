"""The PDFs that two libraries ship to test themselves, as hostile artwork: used, mended with notice, or refused.

They come from the source distributions of pikepdf and pypdf (their licences allow it), fetched when the test runs.
"""

from __future__ import annotations

import faulthandler
import importlib.metadata
import os
import resource
import subprocess
import sys
import tarfile
import time
from collections import Counter
from pathlib import Path

import pytest

from vdp.errors import CallerError
from vdp.pdf.art import art_info
from vdp.pdf.colouring import Colouring
from vdp.verify.preflight.artwork import judge_artwork, picture_of
from vdp.verify.preflight.concern import Wanted

#: Bytes of address space for all of them.
MOST_MEMORY = 6_000_000_000
#: Seconds that one file may take; the slowest measured took under two.
MOST_SECONDS = 30
SUITS = Wanted(("Clear",), 1200, 8.5)


@pytest.fixture(scope="module")
def strangers(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("strangers")
    wanted = [f"{name}=={importlib.metadata.version(name)}" for name in ("pikepdf", "pypdf")]
    command = [
        sys.executable,
        "-m",
        "pip",
        "download",
        "-q",
        "--no-deps",
        "--no-build-isolation",
        "--no-binary",
        ":all:",
    ]
    done = subprocess.run(
        [*command, "-d", str(folder), *wanted], capture_output=True, text=True, check=False, timeout=300
    )
    if done.returncode:
        said = f"the source distributions cannot be had: {done.stderr[-300:]}"
        if os.environ.get("CI"):
            pytest.fail(said)
        pytest.skip(said)
    found: list[Path] = []
    for archive in folder.glob("*.tar.gz"):
        with tarfile.open(archive) as opened:
            for member in opened:
                if member.isfile() and member.name.lower().endswith(".pdf"):
                    path = folder / f"{len(found):03d}-{Path(member.name).name}"
                    path.write_bytes(opened.extractfile(member).read())  # type: ignore[union-attr]  # it is a file
                    found.append(path)
    return found


def test_no_stranger_crashes_hangs_or_leaks(strangers: list[Path]) -> None:
    assert len(strangers) > 100
    limit = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, limit[1]))
    try:
        _try_all(strangers)
    finally:
        resource.setrlimit(resource.RLIMIT_AS, limit)


def _try_all(strangers: list[Path]) -> None:
    outcomes: Counter[str] = Counter()
    for path in strangers:
        faulthandler.dump_traceback_later(MOST_SECONDS, exit=True)
        begun = time.monotonic()
        concerns = judge_artwork(path, [(1, SUITS)])
        for concern in concerns:
            assert "Traceback" not in concern.message
            assert concern.message.strip()
            picture_of(path, max(1, concern.page), concern.area)
        try:
            art_info(path, 1, Colouring())
            outcome = "mended" if any(c.code == "art-repaired" for c in concerns) else "used"
        except CallerError as error:
            outcome = "refused" if all(fault.message and fault.mend for fault in error.faults) else path.name
        outcomes[outcome] += 1
        faulthandler.cancel_dump_traceback_later()
        assert time.monotonic() - begun < MOST_SECONDS
    assert {*outcomes} <= {"used", "mended", "refused"}
    assert outcomes["used"] > 50
    assert outcomes["refused"] > 10
