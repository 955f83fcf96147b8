"""Hash trees (RFC 9162, section 2.1): a root over leaves in order, and proofs that a leaf is among them.

Lives here: hashes of 32 bytes.  Not here: what a leaf is (`seal`), signatures.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

EMPTY = hashlib.sha256(b"").digest()
#: Longest proof that is believed: a tree of 2^64 leaves.
MOST_STEPS = 64


def leaf_hash(data: bytes) -> bytes:
    """2.1.1: a leaf is told from a node by the byte before it."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


def root_of(leaves: Iterable[bytes]) -> bytes:
    """The root over leaf hashes, in one pass; only one hash a level is kept."""
    peaks: list[tuple[int, bytes]] = []  # size and root of perfect trees, largest first
    for leaf in leaves:
        size, held = 1, leaf
        while peaks and peaks[-1][0] == size:
            held = node_hash(peaks.pop()[1], held)
            size *= 2
        peaks.append((size, held))
    if not peaks:
        return EMPTY
    root = peaks.pop()[1]
    while peaks:
        root = node_hash(peaks.pop()[1], root)
    return root


def inclusion(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """2.1.3.1: the proof that leaf `index` (from 0) is in the tree over `leaves`, nearest hash first."""
    if not 0 <= index < len(leaves):
        raise IndexError(f"there is no leaf {index} of {len(leaves)}")
    level, path = list(leaves), list[bytes]()
    while len(level) > 1:
        beside = index ^ 1
        if beside < len(level):
            path.append(level[beside])
        above = [node_hash(level[at], level[at + 1]) for at in range(0, len(level) - 1, 2)]
        if len(level) % 2:
            above.append(level[-1])
        level, index = above, index // 2
    return path


def included(leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> bool:
    """2.1.3.2: whether the proof leads from the leaf to the root of a tree of `size` leaves."""
    if not 0 <= index < size or len(path) > MOST_STEPS:
        return False
    at, last, held = index, size - 1, leaf
    for step in path:
        if last == 0:
            return False
        if at & 1 or at == last:
            held = node_hash(step, held)
            while at & 1 == 0 and at:
                at >>= 1
                last >>= 1
        else:
            held = node_hash(held, step)
        at >>= 1
        last >>= 1
    return last == 0 and held == root
