"""The text of a symbol for people, read off the page and held against what the symbol itself says.

Lives here: where it stands beside its symbol, and what it must read.  Not here: decoding (`symbols`), other text
(`text`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from vdp.job.load import Job
from vdp.verify.inks import PROCESS
from vdp.verify.manifest import Strip, SymbolLine
from vdp.verify.shown import Run, within

#: Points by which text may begin outside its strip: a dot and a half at 1200 dpi, for rounding.
_SLACK = 0.1


def strips_due(job: Job) -> set[str]:
    """The names of the items whose symbols must have text."""
    return {name for name, item in job.layout.named() if getattr(item, "human_text", "none") != "none"}


def judge_text(symbol: SymbolLine, strip: Strip | None, shown: Sequence[Run]) -> Iterator[str]:
    """What is wrong with the text of a symbol; `strip` is None where the run tells of none."""
    if strip is None:
        yield "the layout asks for text for people, and the run tells of none"
        return
    area = strip.beside(symbol.box)
    runs = [run for run in shown if run.depth == 0 and within(run, area, _SLACK)]
    read, due = _plain("".join(run.text for run in runs)), _plain(_due(symbol))
    if read != due:
        yield f"its text reads '{read[:80]}', the symbol '{due[:80]}'"
    if any(not _on_plate(run, symbol.plate) for run in runs):
        yield f"its text is not printed on {symbol.plate} alone"


def _due(symbol: SymbolLine) -> str:
    """The data as people are shown them: UPC without the zero that a reader puts before it, six digits of UPC-E."""
    if symbol.symbology == "upca":
        return symbol.data[1:]
    if symbol.symbology == "upce":
        return _short(symbol.data[1:])
    return symbol.data


def _short(full: str) -> str:
    """UPC-A → UPC-E (GS1 General Specifications, figure 5.2.2.4.2-1): system, six digits, check digit."""
    system, maker, product, check = full[0], full[1:6], full[6:11], full[11:]
    if maker[2:] in ("000", "100", "200"):
        six = maker[:2] + product[2:] + maker[2]
    elif maker[3:] == "00":
        six = maker[:3] + product[3:] + "3"
    elif maker[4:] == "0":
        six = maker[:4] + product[4] + "4"
    else:
        six = maker + product[4]
    return system + six + check


def _plain(text: str) -> str:
    """Without what only parts elements and groups: brackets, spaces, separators, the asterisks of Code 39."""
    return "".join(one for one in text if one not in " ()*\x1d\n\u00a0")


def _on_plate(run: Run, plate: str) -> bool:
    if plate not in PROCESS:
        return run.space.names == (plate,)
    others = [part for name, part in zip(PROCESS, run.colour, strict=False) if name != plate]
    return run.space.kind == "cmyk" and not any(others)
