"""Compressed streams say what was put in, and depend on nothing else."""

from __future__ import annotations

import zlib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from isal import isal_zlib

from tests.small import plan_of, write_job
from vdp.compose.piece import compose
from vdp.job.faces import job_faces
from vdp.pdf.content import Renderer
from vdp.pdf.names import name_resources
from vdp.pdf.squeeze import COMPRESSORS, OPENING, Squeeze, pack, pack_picture
from vdp.plan.numbering import numbering_of
from vdp.plan.steps import FormStep
from vdp.run.intake import take_in
from vdp.run.numbers import Numbers

#: Letters that make runs and repeats, the one that opens a content stream among them.
LETTERS = st.sampled_from(b" \t0123re\n")


@pytest.mark.parametrize("kind", ["fast", "small"])
@given(data=st.lists(LETTERS, max_size=300).map(bytes) | st.binary(max_size=300))
def test_what_is_read_is_what_was_written(kind: Squeeze, data: bytes) -> None:
    for compress in (COMPRESSORS[kind], pack, pack_picture):
        assert zlib.decompress(compress(data)) == data


@given(head=st.lists(LETTERS, max_size=6).map(bytes), rest=st.lists(LETTERS, max_size=200).map(bytes))
def test_what_lies_at_an_address_is_never_asked_of_data_where_it_shows(head: bytes, rest: bytes) -> None:
    """What is looked up by address is a match of four bytes with one of the first three places, or none: where no such
    match is, there is nothing to find or to lose (ISA-L 2.31, igzip_icf_body_h1_gr_bt.asm; read from the source)."""
    asked: list[bytes] = []

    def heard(data: bytes, level: int) -> bytes:
        asked.append(data)
        return zlib.compress(data, level)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(isal_zlib, "compress", heard)
        COMPRESSORS["fast"](head + rest)
    for data in asked:
        assert len(data) <= 32_768
        assert all(data.find(data[at : at + 4], at + 1) < 0 for at in range(3))


def test_longer_data_is_not_asked_either(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(isal_zlib, "compress")
    data = OPENING.encode() + b"0 1 2 3 re\n" * 3000
    assert zlib.decompress(COMPRESSORS["fast"](data)) == data


def test_pages_open_with_a_byte_that_they_have_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    job, table, plan = plan_of(write_job(tmp_path))
    intake = take_in(plan, table, Numbers(job, numbering_of(job, {}), {}))
    forms = [step.asset for step in plan.steps() if isinstance(step, FormStep)]
    renderer = Renderer(1200, name_resources(job_faces(job), forms, (), ()))
    pieces = compose(intake.plan, [*intake.accepted()])
    pages = renderer.render([side for piece in pieces for side in (piece.front, piece.back)])
    asked: list[bytes] = []
    usual = isal_zlib.compress

    def heard(data: bytes, level: int) -> bytes:
        asked.append(data)
        return bytes(usual(data, level))

    monkeypatch.setattr(isal_zlib, "compress", heard)
    for page in pages:
        assert page.startswith(OPENING.encode())
        assert page.count(OPENING[2:].encode()) == 1
        COMPRESSORS["fast"](page)
    assert asked == pages


def test_every_thread_gives_the_same_bytes() -> None:
    """Threads have stacks, and so addresses, of their own; without the opening about one in a hundred differs."""
    line = b"".join(b"%2d %2d  1 1 re\n" % (x, 7 * x % 30) for x in range(30))
    pages = [OPENING.encode() + b"0.06 0 0 0.06 0 0 cm\n" + line * n for n in range(1, 9)]
    found = set()
    for _ in range(12):
        with ThreadPoolExecutor(16) as threads:
            found |= set(threads.map(lambda _: tuple(map(COMPRESSORS["fast"], pages)), range(64)))
    assert len(found) == 1
