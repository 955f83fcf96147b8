"""What a customer approves, part by part: its one hash, and in words how one differs from another.

Lives here: the hash and the comparison, of values.  Not here: taking them from a job (`vdp.run.expected`), signatures
(`approval`).

A basis is JSON: ``vdp`` the version; ``job``, ``layout`` and ``profile`` files with name, SHA-256 and a hash of each
part of theirs; ``records`` the list with its counts; ``art``, ``images`` and ``faces`` SHA-256 by name; ``series`` the
terms of each series, where its numbers begin and end.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import rfc8785

#: Separates this hash from every other use of SHA-256.
CONTEXT = b"vdp proof 1\n"
#: Hexadecimal digits that stand for a hash where people compare by eye; 12 are the least that is taken.
SHORT, LEAST = 16, 12


class Change(NamedTuple):
    """`part`: job, layout, art, images, records, series, faces, profile or vdp; `what`: the file, face or series."""

    part: str
    what: str
    message: str


def proof_hash(basis: Mapping[str, Any]) -> str:
    """SHA-256 in hex over the canonical JSON (RFC 8785): the hash that a proof carries and an approval is bound to."""
    return hashlib.sha256(CONTEXT + rfc8785.dumps(dict(basis))).hexdigest()


def part_hash(value: Any) -> str:
    """SHA-256 of a JSON value; its numbers may be larger than RFC 8785 allows."""
    return hashlib.sha256(json.dumps(value, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def changes(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[Change]:
    """Everything in which `now` is not `before`; empty exactly when their hashes agree."""
    found = [*_version(before, now)]
    for part, kind in (("job", "key"), ("layout", "item")):
        found += _file(part, kind, before.get(part), now.get(part))
    found += _records(before.get("records"), now.get("records"))
    for part, kind in (("art", "artwork"), ("images", "picture"), ("faces", "face")):
        found += _named(part, kind, before.get(part), now.get(part))
    found += _file("profile", "", before.get("profile"), now.get("profile"))
    found += _series(before.get("series"), now.get("series"))
    if not found and proof_hash(before) != proof_hash(now):
        found.append(Change("vdp", "basis", "what was approved is told in another way than this version tells it"))
    return found


def _version(before: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[Change]:
    if before.get("vdp") != now.get("vdp"):
        yield Change("vdp", "vdp", f"it was approved as made by version {before.get('vdp')}, this is {now.get('vdp')}")


def _file(part: str, kind: str, before: Any, now: Any) -> Iterator[Change]:
    old, new = _mapping(before), _mapping(now)
    if old == new:
        return
    name = str(new.get("name") or old.get("name") or part)
    if not old or not new:
        yield Change(part, name, f"there was {'one' if old else 'none'} when it was approved")
    elif old.get("name") != new.get("name") and old.get("sha256") == new.get("sha256"):
        yield Change(part, name, f"its name was {old.get('name')} when it was approved")
    else:
        parts = list(_different(_mapping(old.get("parts")), _mapping(new.get("parts"))))
        if old.get("sha256") == new.get("sha256"):
            said = f": {kind} {', '.join(parts)}" if parts else ""
            yield Change(part, name, f"is the same file, and is not read as it was when it was approved{said}")
            return
        what = (
            f"changed: {kind} {', '.join(parts)}"
            if parts
            else "changed, although it says the same: comments and spacing count too"
        )
        yield Change(part, name, what if kind else "changed")


def _different(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[str]:
    for name in dict.fromkeys((*old, *new)):
        if name not in new:
            yield f"{name} (gone)"
        elif name not in old:
            yield f"{name} (new)"
        elif old[name] != new[name]:
            yield name


def _records(before: Any, now: Any) -> Iterator[Change]:
    old, new = _mapping(before), _mapping(now)
    if old == new:
        return
    name = str(new.get("name"))
    counts = ", ".join(
        f"{old.get(key)} {words} then and {new.get(key)} now"
        for key, words in (("rows", "rows"), ("pieces", "pieces"), ("set_aside", "set aside"))
        if old.get(key) != new.get(key)
    )
    if old.get("sha256") == new.get("sha256") and not counts:
        yield Change("records", name, f"the list's name was {old.get('name')} when it was approved")
    else:
        yield Change("records", name, f"the list changed{f': {counts}' if counts else ', with as many rows'}")


def _named(part: str, kind: str, before: Any, now: Any) -> Iterator[Change]:
    old, new = _mapping(before), _mapping(now)
    for name in dict.fromkeys((*old, *new)):
        if old.get(name) != new.get(name):
            how = "is no longer used" if name not in new else "was not there" if name not in old else "changed"
            yield Change(part, name, f"this {kind} {how}{' when it was approved' if name not in old else ''}")


def _series(before: Any, now: Any) -> Iterator[Change]:
    old, new = _mapping(before), _mapping(now)
    for name in dict.fromkeys((*old, *new)):
        if name not in old or name not in new:
            yield Change("series", name, f"the series is {'gone' if name not in new else 'new'}")
            continue
        then, today = _mapping(old[name]), _mapping(new[name])
        terms = list(_different(_mapping(then.get("terms")), _mapping(today.get("terms"))))
        if terms:
            yield Change("series", name, f"its terms changed: {', '.join(terms)}")
        if _without_terms(then) != _without_terms(today):
            yield Change(
                "series", name, f"{then.get('first')} to {then.get('last')} were approved, {_numbers(then, today)}"
            )


def _numbers(then: Mapping[str, Any], today: Mapping[str, Any]) -> str:
    """How the numbers of a series differ; before the first pass it is only known where they begin."""
    if any(then.get(end) != today.get(end) for end in ("first", "last")):
        return f"and the run would have {today.get('first')} to {today.get('last')}"
    try:
        later = int(today["begins"]) - int(then["begins"])
    except (KeyError, TypeError, ValueError):
        return "and the run would begin elsewhere"
    return f"and the run would begin {abs(later):,} numbers {'later' if later > 0 else 'earlier'}"


def _without_terms(series: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in series.items() if key != "terms"}


def _mapping(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}
