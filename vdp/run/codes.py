"""The warnings and findings that a run itself gives; the verifier's codes live in `verify.codes`."""

from __future__ import annotations

WARNINGS: dict[str, str] = {
    "recipient-repeated": "the same recipient stands in more than one row",
    "microtext-small": "microtext is set below the size at which it surely holds its shape",
}
