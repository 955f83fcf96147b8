"""Matrices as PDF writes them (ISO 32000-2, 8.3.3): [a b c d e f], points of the page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from vdp.verify.state import Area, Matrix


def matrix(operands: Iterable[Any]) -> Matrix:
    a, b, c, d, e, f = (float(value) for value in operands)
    return a, b, c, d, e, f


def moved(matrix: Matrix, x: float, y: float) -> tuple[float, float]:
    a, b, c, d, e, f = matrix
    return a * x + c * y + e, b * x + d * y + f


def scale(matrix: Matrix) -> float:
    """The smaller of the two ways in which a matrix scales: the thinnest that a line becomes."""
    a, b, c, d, _, _ = matrix
    return float(min((a * a + b * b) ** 0.5, (c * c + d * d) ** 0.5))


def around(points: list[tuple[float, float]]) -> Area:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)
