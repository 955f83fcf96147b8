"""GS1 Digital Link URIs: an element string written as a web address, and read back from one.

Lives here: which AIs are keys, the fixed order of their qualifiers, percent escapes (GS1 Digital Link Standard: URI
Syntax §4; keys and qualifiers from the GS1 Barcode Syntax Dictionary).  Not here: judging the values (`gs1`), symbols:
such a URI goes into a plain QR Code or Data Matrix, without FNC1.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from urllib.parse import quote, unquote_to_bytes

from vdp.barcode.gs1 import ElementString, judged
from vdp.barcode.gs1_rules import IDENTIFIERS
from vdp.errors import RowRefused

#: The stem of canonical URIs.
CANONICAL = "https://id.gs1.org"

#: Primary keys with the sequences of qualifiers that may follow them, in this order.
KEYS: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "00": ((),),
    "01": (("22", "10", "21"), ("235",)),
    "253": ((),),
    "255": ((),),
    "401": ((),),
    "402": ((),),
    "414": (("254",),),
    "415": (("8020",),),
    "417": ((),),
    "8003": ((),),
    "8004": ((),),
    "8006": (("22", "10", "21"),),
    "8010": (("8011",),),
    "8017": (("8019",),),
    "8018": (("8019",),),
}

_STEM = re.compile(r"https?://[A-Za-z0-9.\-]+(?::[0-9]{1,5})?(?:/[A-Za-z0-9._~\-]+)*\Z")
_ADDRESS = re.compile(r"(https?)://([^/?#]+)((?:/[^?#]*)?)(?:\?([^#]*))?(?:#.*)?\Z", re.DOTALL)


def build(elements: ElementString, stem: str = CANONICAL) -> str:
    """The URI of an element string: its first primary key, that key's qualifiers in their fixed order, and all else in
    the query in the order given.

    Raises RowRefused when `stem` is no address of the form ``https://domain[/path]``, no primary key is there, or an AI
    has no place in a URI.
    """
    stem = stem.removesuffix("/")
    if not stem_ok(stem):
        raise RowRefused((f"'{stem}' is no stem for a Digital Link: write https://domain or https://domain/path",))
    values = dict(elements.elements)
    key = next((ai for ai in values if ai in KEYS), None)
    if key is None:
        raise RowRefused((f"a Digital Link needs a primary key, one of {', '.join(f'({ai})' for ai in KEYS)}",))
    order = next((s for s in KEYS[key] if any(ai in values for ai in s)), ())
    path = [ai for ai in (key, *order) if ai in values]
    query = [ai for ai in values if ai not in path]
    if misplaced := [ai for ai in query if not IDENTIFIERS[ai].attribute]:
        raise RowRefused(f"({ai}) has no place in a Digital Link of ({key})" for ai in misplaced)
    uri = stem + "".join(f"/{ai}/{quote(values[ai], safe='')}" for ai in path)
    return uri + ("?" + "&".join(f"{ai}={quote(values[ai], safe='')}" for ai in query) if query else "")


def stem_ok(stem: str) -> bool:
    """Whether links may stand under that address: no word of its path is a primary key."""
    return _STEM.match(stem) is not None and not any(word in KEYS for word in stem.split("/")[3:])


def parse(uri: str) -> ElementString:
    """The element string that a Digital Link URI carries; other words of its query are passed over.

    Raises RowRefused when it is no such URI: scheme in capitals, no key, qualifiers out of order, an alphabetic alias
    such as /gtin/, or a value that the AI does not take.
    """
    address = _ADDRESS.match(uri)
    if not address:
        raise RowRefused((f"'{uri[:40]}' is not a Digital Link: it must begin with https:// or http:// and a domain",))
    elements = _path(address[3].split("/")[1:])
    for word in filter(None, (address[4] or "").split("&")):
        name, _, value = word.partition("=")
        if name.isdigit():
            if name in IDENTIFIERS and not IDENTIFIERS[name].attribute:
                raise RowRefused((f"({name}) has no place in the query of a Digital Link",))
            elements.append((name, _unescaped(value.replace("+", " "))))
    return judged(tuple(elements))


def _path(words: list[str]) -> list[tuple[str, str]]:
    """Key and qualifiers, which end the path: the last key that leaves pairs behind it counts."""
    for place in range(len(words) - 2, -1, -2):
        if words[place] in KEYS:
            pairs = list(zip(words[place::2], words[place + 1 :: 2], strict=True))
            given = [ai for ai, _ in pairs[1:]]
            if not any(given == [ai for ai in order if ai in given] for order in KEYS[words[place]]):
                raise RowRefused((f"the qualifiers {'/'.join(given)} cannot follow ({words[place]}) in that order",))
            return [(ai, _unescaped(value)) for ai, value in pairs]
    raise RowRefused(("the path holds no primary key of GS1, written as digits such as /01/",))


def _unescaped(value: str) -> str:
    if re.search("%(?![0-9A-Fa-f]{2})", value):
        raise RowRefused((f"'{value[:40]}' has a % that two hexadecimal digits do not follow",))
    try:
        return unquote_to_bytes(value).decode("ascii")
    except UnicodeDecodeError:
        raise RowRefused((f"'{value[:40]}' escapes characters that GS1 values cannot hold",)) from None
