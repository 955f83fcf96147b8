"""UPU S10 identifiers of postal items: service, eight digits, check digit, country; carried by Code 128.

Lives here: the form and the check digit (UPU S10 §7).  Not here: which services and countries exist.
"""

from __future__ import annotations

import re

from vdp import checkdigit
from vdp.errors import RowRefused

_FORM = re.compile(r"([A-Z]{2})([0-9]{8})([0-9])?([A-Z]{2})")


def identifier(text: str) -> str:
    """The 13 characters of an identifier written with or without its check digit; spaces are passed over.

    Raises RowRefused for anything else and for a wrong check digit.
    """
    form = _FORM.fullmatch(text.replace(" ", ""))
    if not form:
        raise RowRefused(
            (f"'{text[:20]}' is no S10 identifier: two capitals, eight digits, check digit, two capitals",)
        )
    service, serial, given, country = form.groups()
    right = checkdigit.check("upu_s10", serial)
    if given not in (None, right):
        raise RowRefused((f"S10 identifier {text} has check digit {given}, and {right} is right",))
    return service + serial + right + country


def spaced(text: str) -> str:
    """The identifier as people read it: RA 123 456 785 ZZ (UPU S10 §8, from memory)."""
    whole = identifier(text)
    return " ".join((whole[:2], whole[2:5], whole[5:8], whole[8:11], whole[11:]))
