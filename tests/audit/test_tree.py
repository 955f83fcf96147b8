"""Hash trees against published roots and proofs (RFC 9162, section 2.1; values as in STANDARDS §4)."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vdp.audit.tree import EMPTY, included, inclusion, leaf_hash, node_hash, root_of

DATA = [
    bytes.fromhex(text)
    for text in ("", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f")
]
LEAVES = [leaf_hash(data) for data in DATA]
ROOTS = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
PATHS = {
    (0, 8): [
        "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
    ],
    (5, 8): [
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        ROOTS[3],
    ],
    (2, 3): [ROOTS[1]],
}


@pytest.mark.parametrize("size", range(1, 9))
def test_published_roots(size: int) -> None:
    assert root_of(LEAVES[:size]).hex() == ROOTS[size - 1]


def test_the_empty_tree() -> None:
    assert root_of([]) == EMPTY == hashlib.sha256(b"").digest()


@pytest.mark.parametrize(("place", "path"), PATHS.items())
def test_published_proofs(place: tuple[int, int], path: list[str]) -> None:
    index, size = place
    assert [step.hex() for step in inclusion(LEAVES[:size], index)] == path


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 200), st.data())
def test_every_proof_holds_and_no_other(size: int, data: st.DataObject) -> None:
    leaves = [leaf_hash(str(n).encode()) for n in range(size)]
    index = data.draw(st.integers(0, size - 1))
    root, path = root_of(leaves), inclusion(leaves, index)
    assert included(leaves[index], index, size, path, root)
    other = data.draw(st.integers(0, size - 1))
    if other != index:
        assert not included(leaves[other], index, size, path, root)
        assert not included(leaves[index], other, size, path, root)
    assert not included(leaves[index], index, size, [*path, root], root)
    if path:
        assert not included(leaves[index], index, size, path * 70, root)
        assert not included(leaves[index], index, size, path[:-1], root)
        assert not included(leaves[index], index, size, [node_hash(path[0], path[0]), *path[1:]], root)
    assert not included(leaves[index], -1, size, path, root)


def test_no_such_leaf() -> None:
    with pytest.raises(IndexError):
        inclusion(LEAVES, 8)
