"""Compressed streams say what was put in, and depend on nothing else."""

from __future__ import annotations

import subprocess
import sys
import zlib
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.pdf.squeeze import COMPRESSORS, Squeeze, pack, pack_picture

#: Letters that make runs and repeats.
LETTERS = st.sampled_from(b" \t0123re\n")


@pytest.mark.parametrize("kind", ["fast", "small"])
@given(data=st.lists(LETTERS, max_size=300).map(bytes) | st.binary(max_size=300))
def test_what_is_read_is_what_was_written(kind: Squeeze, data: bytes) -> None:
    for compress in (COMPRESSORS[kind], pack, pack_picture):
        assert zlib.decompress(compress(data)) == data


#: Sixteen pages of rectangles, compressed: what each comes to, in one line.
SCRIPT = """
from vdp.pdf.squeeze import COMPRESSORS
line = b"".join(b"%2d %2d  1 1 re\\n" % (x, 7 * x % 30) for x in range(30))
pages = [b"%d 0 0 %d 0 0 cm\\n" % (n, n) + line * n for n in range(1, 17)]
told = b"".join(COMPRESSORS[kind](page) for kind in COMPRESSORS for page in pages).hex()
"""


def test_every_thread_gives_the_same_bytes() -> None:
    """Threads have stacks, and so addresses, of their own."""

    def told(_: int) -> str:
        names: dict[str, str] = {}
        exec(SCRIPT, names)  # noqa: S102  the same words as in the processes below
        return names["told"]

    found = set()
    for _ in range(8):
        with ThreadPoolExecutor(16) as threads:
            found |= set(threads.map(told, range(32)))
    assert len(found) == 1


def test_every_process_gives_the_same_bytes() -> None:
    """Processes have addresses of their own; the length of what is handed to one moves its stack."""
    found = {
        subprocess.run(
            [sys.executable, "-c", SCRIPT + "print(told)"],
            env={"PATH": "/usr/bin", "PYTHONPATH": ":".join(sys.path), "ROOM": "x" * (1 << nth)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for nth in range(4, 16, 3)
    }
    assert len(found) == 1
