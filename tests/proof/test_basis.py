"""What is approved, and every way in which it can differ, in words."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from vdp.proof.basis import changes, part_hash, proof_hash

BASIS: dict[str, Any] = {
    "vdp": "1.0",
    "job": {"name": "job.yaml", "sha256": "a", "parts": {"web": "1", "date": "2"}},
    "layout": {"name": "layout.yaml", "sha256": "b", "parts": {"front hello": "1", "trim": "2"}},
    "records": {"name": "list.csv", "sha256": "c", "rows": 3, "pieces": 3, "set_aside": 0},
    "art": {"front.pdf": "d"},
    "images": {"a.png": "e", "b.png": "f"},
    "faces": {"sans": "g"},
    "series": {"pass": {"begins": "0", "first": "P1", "last": "P3", "terms": {"width": "4", "check": "damm"}}},
    "profile": {"name": "press.icm", "sha256": "h"},
}


def put(path: tuple[str, ...], value: object) -> dict[str, Any]:
    changed = deepcopy(BASIS)
    inner = changed
    for key in path[:-1]:
        inner = inner[key]
    if value is None:
        del inner[path[-1]]
    else:
        inner[path[-1]] = value
    return changed


def test_the_same_is_the_same() -> None:
    assert changes(BASIS, deepcopy(BASIS)) == []
    assert proof_hash(BASIS) == proof_hash(dict(reversed(BASIS.items())))
    assert part_hash({"start": 10**30}) == part_hash({"start": 10**30})


@pytest.mark.parametrize(
    ("path", "value", "part", "said"),
    [
        (("vdp",), "1.1", "vdp", "it was approved as made by version 1.0, this is 1.1"),
        (
            ("job",),
            {"name": "job.yaml", "sha256": "z", "parts": {"web": "9", "rolls": "1"}},
            "job",
            "changed: key web, date (gone), rolls (new)",
        ),
        (("job", "sha256"), "z", "job", "changed, although it says the same: comments and spacing count too"),
        (("job", "name"), "other.yaml", "job", "its name was job.yaml when it was approved"),
        (
            ("layout",),
            {"name": "layout.yaml", "sha256": "z", "parts": {"front hello": "9", "trim": "2"}},
            "layout",
            "changed: item front hello",
        ),
        (
            ("layout", "parts", "trim"),
            "9",
            "layout",
            "is the same file, and is not read as it was when it was approved: item trim",
        ),
        (
            ("profile", "more"),
            "9",
            "profile",
            "is the same file, and is not read as it was when it was approved",
        ),
        (("records", "sha256"), "z", "records", "the list changed, with as many rows"),
        (
            ("records",),
            {"name": "list.csv", "sha256": "z", "rows": 4, "pieces": 3, "set_aside": 1},
            "records",
            "the list changed: 3 rows then and 4 now, 0 set aside then and 1 now",
        ),
        (("records", "name"), "l.csv", "records", "the list's name was list.csv when it was approved"),
        (("art", "front.pdf"), "z", "art", "this artwork changed"),
        (("art", "back.pdf"), "z", "art", "this artwork was not there when it was approved"),
        (("images", "b.png"), None, "images", "this picture is no longer used"),
        (("faces", "sans"), "z", "faces", "this face changed"),
        (("profile", "sha256"), "z", "profile", "changed"),
        (("profile",), None, "profile", "there was one when it was approved"),
        (("series", "pass"), None, "series", "the series is gone"),
        (("series", "more"), {}, "series", "the series is new"),
        (("series", "pass", "terms", "width"), "5", "series", "its terms changed: width"),
        (
            ("series", "pass", "begins"),
            "3",
            "series",
            "P1 to P3 were approved, and the run would begin 3 numbers later",
        ),
        (("series", "pass", "begins"), "x", "series", "P1 to P3 were approved, and the run would begin elsewhere"),
        (("series", "pass", "last"), "P4", "series", "P1 to P3 were approved, and the run would have P1 to P4"),
        (("more",), "x", "vdp", "what was approved is told in another way than this version tells it"),
    ],
)
def test_each_change_is_named(path: tuple[str, ...], value: object, part: str, said: str) -> None:
    now = put(path, value)
    assert proof_hash(now) != proof_hash(BASIS)
    found = changes(BASIS, now)
    assert [(change.part, change.message) for change in found] == [(part, said)]


def test_a_profile_that_came_later_is_named() -> None:
    (found,) = changes(put(("profile",), None), BASIS)
    assert found == ("profile", "press.icm", "there was none when it was approved")
