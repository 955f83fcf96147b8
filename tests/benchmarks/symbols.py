"""Microseconds a symbol: what the first pass asks (need), encoding and drawing in batches of 64 (reduced: with bars two
dots narrower than their modules), decoding as the checks do.

Processor time of this process, best of several rounds; each payload of a round differs.  Run it as
``python -m tests.benchmarks.symbols``.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from tests.barcode.drawing import bitmap
from tests.benchmarks.table import table
from vdp.barcode import carriers
from vdp.barcode.sizes import STATES
from vdp.marks import Bars, Matrix, States
from vdp.pdf.bars import bar_rectangles, state_rectangles
from vdp.pdf.modules import Drawn, matrix_rectangles
from vdp.verify.decode import read
from vdp.verify.samples import Bytes

BATCH, ROUNDS, PIXELS, MODULE = 64, 5, 6, 12


def payload(symbology: str, nth: int) -> str:
    """A payload of everyday length, a different one for each `nth`."""
    digits = f"{nth:06d}"
    plain = {
        "gs1_128": f"(01)09506000134352(10)AB-{digits}",
        "s10": f"RA12{digits}ZZ",
        "itf": f"12{digits}",
        "itf14": f"1540014{digits}",
        "ean13": f"400638{digits}",
        "ean8": f"9{digits}",
        "upca": f"03600{digits}",
        "upce": f"0{digits[1:]}2",
        "gs1_qr": f"(01)09506000134352(10)AB-{digits}",
        "gs1_datamatrix": f"(01)09506000134352(10)AB-{digits}",
        "imb": f"01234567094987{digits}01234567891",
        "rm4scc": f"SN{digits}",
        "kix": f"2500GG{digits}",
    }
    return plain.get(symbology, f"FP-{digits}")


def picture(symbology: str, shape: carriers.Shape) -> Bytes:
    """Black on white with its quiet zone, some pixels a module."""
    if not isinstance(shape, States):
        pixels = bitmap(shape, symbology, PIXELS)
        # Bars have no quiet zone above and below, and fill the place where they are looked for.
        return np.ascontiguousarray(pixels[2 * PIXELS : -2 * PIXELS]) if isinstance(shape, Bars) else pixels
    size = STATES[symbology].dots(600)
    pixels = np.full((size.full + 40, size.width(len(shape.bars)) + 160), 255, np.uint8)
    for nth, bar in enumerate(shape.bars):
        top = 20 if bar in "FA" else 20 + size.reach
        bottom = 20 + size.full - (0 if bar in "FD" else size.reach)
        left = 80 + nth * size.pitch
        pixels[top:bottom, left : left + size.bar] = 0
    return pixels


def microseconds(work: Callable[[], object], symbols: int) -> float:
    """A symbol's share of the fastest round."""
    taken = []
    for _ in range(ROUNDS):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return min(taken) / symbols * 1e6


def drawn(symbology: str, shapes: Sequence[carriers.Shape], reduction: int) -> list[str]:
    """Rectangles of a batch, as a page's content gets them."""
    if isinstance(shapes[0], Matrix):
        due = [Drawn(shape, MODULE, (reduction, reduction)) for shape in shapes if isinstance(shape, Matrix)]
        return matrix_rectangles(due)
    if isinstance(shapes[0], States):
        size = STATES[symbology].dots(1200)
        return [state_rectangles(shape, size) for shape in shapes if isinstance(shape, States)]
    bars = [shape for shape in shapes if isinstance(shape, Bars)]
    return bar_rectangles(bars, MODULE, reduction) if reduction else bar_rectangles(bars)


def draw_all(symbology: str, batches: Sequence[Sequence[carriers.Shape]], reduction: int) -> None:
    """`drawn` for each batch."""
    for batch in batches:
        drawn(symbology, batch, reduction)


def measure(symbology: str, batches: int) -> tuple[float, ...]:
    """Need, encode, draw, draw reduced (0 for postal codes, which cannot be) and decode of one symbology."""
    texts = [payload(symbology, 100_000 + nth) for nth in range(BATCH * batches)]
    needed = max(carriers.need(symbology, text) for text in texts)
    encoder = carriers.Encoder(symbology, needed)
    batched = [texts[at : at + BATCH] for at in range(0, len(texts), BATCH)]
    need = microseconds(lambda: [carriers.need(symbology, text) for text in texts], len(texts))
    encode = microseconds(lambda: [encoder.encode(batch) for batch in batched], len(texts))
    shapes = [encoder.encode(batch) for batch in batched]
    draw, reduced = (microseconds(partial(draw_all, symbology, shapes, by), len(texts)) for by in (0, 2))
    pictures = [picture(symbology, shape) for shape in encoder.encode(texts[:BATCH])]
    kind = symbology.replace("_", "-")
    decode = microseconds(lambda: [read(pixels, kind) for pixels in pictures], len(pictures))
    return need, encode, draw, 0.0 if symbology in carriers.FOUR_STATE else reduced, decode


def main() -> None:
    parser = argparse.ArgumentParser(description="Microseconds a symbol.")
    parser.add_argument("--batches", type=int, default=8, help="batches of 64 symbols a round (8)")
    batches = parser.parse_args().batches
    rows = [
        [name, *(f"{figure:,.0f}" if figure else "–" for figure in measure(name, batches))] for name in carriers.NAMES
    ]
    sys.stdout.write(table(("µs a symbol", "need", "encode", "draw", "reduced", "decode"), rows))


if __name__ == "__main__":
    main()
