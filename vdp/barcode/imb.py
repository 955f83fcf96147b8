"""USPS Intelligent Mail barcode (USPS-B-3200): tracking code and routing code → 65 four-state bars.

Lives here: the digits that it takes.  Not here: the arithmetic, which is reportlab's, and sizes (`sizes`).
"""

from __future__ import annotations

import re

from reportlab.graphics.barcode.usps4s import USPS_4State

from vdp.errors import OurBug, RowRefused
from vdp.marks import States

#: USPS-B-3200 §2.2: barcode identifier, of which the second digit is 0 … 4; service type; mailer and serial number.
_TRACKING = re.compile(r"[0-9][0-4][0-9]{18}")
_ROUTING = re.compile(r"(?:[0-9]{5}|[0-9]{9}|[0-9]{11})?")


def encode(text: str) -> States:
    """The bars of 20 digits of tracking code, followed by 0, 5, 9 or 11 digits of routing code.

    Raises RowRefused for anything else.
    """
    tracking, routing = text[:20], text[20:]
    faults = []
    if not _TRACKING.fullmatch(tracking):
        faults.append(f"an Intelligent Mail barcode needs 20 digits, the second 0 to 4, not '{tracking}'")
    if not _ROUTING.fullmatch(routing):
        faults.append(f"an Intelligent Mail barcode's routing code has 0, 5, 9 or 11 digits, not '{routing[:40]}'")
    if faults:
        raise RowRefused(faults)
    bars = str(USPS_4State(tracking, routing).barcodes) if routing else str(USPS_4State(tracking).barcodes)
    if not re.fullmatch("[FADT]{65}", bars):
        raise OurBug("an Intelligent Mail barcode came without its 65 bars")
    return States(bars)
