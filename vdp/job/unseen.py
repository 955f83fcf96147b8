"""Series whose numbers a layout shows nowhere: people read them, and so do the checks of the finished pages.

Not here: series that the job does not have (`checks`), what the finished pages show (`verify`).
"""

from __future__ import annotations

from collections.abc import Iterator

from vdp.errors import Fault
from vdp.job.items import BarcodeItem, MicrotextItem, NumberItem, TextItem
from vdp.job.load import Job
from vdp.job.template import compile_text


def unseen(job: Job) -> list[Fault]:
    """A fault for each series that no item sets as type, on whichever plate."""
    shown = {name for side in (job.layout.front, job.layout.back) for item in side for name in _shown(item)}
    return [
        Fault(
            job.where("job", "series", name),
            f"nothing in the layout shows the numbers of series '{name}' as text",
            f"add an item such as {{number: {name}, box: …, size: 10 pt}}, or take the series out",
        )
        for name in job.model.series
        if name not in shown
    ]


def _shown(item: object) -> Iterator[str]:
    """The series whose numbers an item sets as type."""
    texts: tuple[str, ...] = ()
    if isinstance(item, NumberItem):
        yield item.number
    elif isinstance(item, TextItem):
        texts = (item.text,) if isinstance(item.text, str) else tuple(item.text.values())
    elif isinstance(item, MicrotextItem):
        texts = (item.microtext,)
    elif isinstance(item, BarcodeItem) and item.human_text != "none":
        texts = (item.data,)
    for text in texts:
        yield from compile_text(text, "").series
