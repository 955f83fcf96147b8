"""Pixels → PNG for reports.  Not here: which pixels, and pictures that a browser waits for."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from vdp.verify.samples import Bytes


def png(pixels: Bytes) -> bytes:
    """Grey (rows, columns) or RGB (rows, columns, 3) of 8 bits."""
    out = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(out, "PNG")
    return out.getvalue()
