"""Hash trees against published roots and proofs (RFC 9162, section 2.1)."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.audit.vectors import vectors
from vdp.audit.tree import EMPTY, included, inclusion, leaf_hash, node_hash, root_of

RFC = vectors("rfc9162")
DATA = [bytes.fromhex(text) for text in RFC["leaves"]]
LEAVES = [leaf_hash(data) for data in DATA]
ROOTS = RFC["roots"]
PATHS = {(each["leaf"], each["size"]): each["path"] for each in RFC["inclusion"]}


@pytest.mark.parametrize("size", range(1, 9))
def test_published_roots(size: int) -> None:
    assert root_of(LEAVES[:size]).hex() == ROOTS[size - 1]


def test_the_empty_tree() -> None:
    assert root_of([]) == EMPTY == hashlib.sha256(b"").digest() == bytes.fromhex(RFC["empty"])


@pytest.mark.parametrize(("place", "path"), PATHS.items())
def test_published_proofs(place: tuple[int, int], path: list[str]) -> None:
    index, size = place
    assert [step.hex() for step in inclusion(LEAVES[:size], index)] == path
    root = bytes.fromhex(ROOTS[size - 1])
    assert included(LEAVES[index], index, size, [bytes.fromhex(step) for step in path], root)


@pytest.mark.parametrize("leaf", RFC["figure"]["paths"])
def test_the_published_figure(leaf: str) -> None:
    """The nodes of the tree of seven leaves, by the figure's letters: leaf hashes are a to f and j."""
    a, b, c, d, e, f, j = LEAVES[:7]
    g, h, i = node_hash(a, b), node_hash(c, d), node_hash(e, f)
    k, l = node_hash(g, h), node_hash(i, j)  # noqa: E741  the figure's own letter
    nodes = dict(zip("abcdefghijkl", (a, b, c, d, e, f, g, h, i, j, k, l), strict=True))
    assert [nodes[name] for name in RFC["figure"]["paths"][leaf]] == inclusion(LEAVES[:7], int(leaf))
    assert node_hash(k, l) == root_of(LEAVES[:7])


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
