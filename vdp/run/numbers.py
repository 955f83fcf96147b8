"""The serials of a run's pieces, in order: counted on from a first number, or out of the records.

Not here: which number comes first (`allot`), what a serial looks like (`numbering.series`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from vdp.errors import CallerError, RowRefused
from vdp.job.load import Job
from vdp.numbering.column import ColumnNumbers
from vdp.numbering.series import Series
from vdp.plan.numbering import affixes_of

#: Numbers worked out at once: shuffled ones are faster together.
BLOCK = 1024

_NONE: list[str] = []


class Numbers:
    """Gives each piece its serials.  `firsts` are the 0-based indexes at which counted series begin (0 where not said).

    `judge` is for the first pass, and remembers the numbers of columns; `of` for every later one.
    """

    def __init__(self, job: Job, series: Mapping[str, Series], firsts: Mapping[str, int]) -> None:
        self.series, self.firsts = series, firsts
        self._job = job
        specs = job.model.series
        self.columns = {
            name: ColumnNumbers(each, str(specs[name].column))
            for name, each in series.items()
            if specs[name].column is not None
        }
        self._affixes = {name: affixes_of(job, name) for name in series}
        self._blocks: dict[str, tuple[int, list[int]]] = {}
        #: Serials of series in which nothing varies, worked out together.
        self._ready: dict[str, tuple[int, list[str]]] = {}

    @property
    def counted(self) -> dict[str, Series]:
        """The series whose numbers are counted out."""
        return {name: each for name, each in self.series.items() if name not in self.columns}

    def of(self, nth: int, values: Mapping[str, str], row: int) -> dict[str, str]:
        """The serials of the piece of 0-based `nth`, by series.  Raises RowRefused where the record's parts of one
        cannot be printed, and CallerError when a series is exhausted."""
        return {name: self._text(name, nth, values, row) for name in self.series}

    def judge(self, nth: int, values: Mapping[str, str], row: int) -> dict[str, str]:
        """The same; raises RowRefused also for a column's number that is malformed, or was seen before."""
        serials = self.of(nth, values, row)
        reasons: list[str] = []
        accepted: list[ColumnNumbers] = []
        for name, column in self.columns.items():
            found = column.judge(row, serials[name], *self._parts(name, values, row))
            reasons += found
            if not found:
                accepted.append(column)
        if reasons:
            for column in accepted:
                column.refuse()
            raise RowRefused(reasons)
        return serials

    def outside(self, values: Mapping[str, str]) -> dict[str, str]:
        """Serials of the right form that no piece of these series can ever have, for specimens; `values` are theirs.

        Raises CallerError where a series has every number that its width can write, and RowRefused as `of` does.
        """
        return {
            name: self.series[name].written(self.series[name].outside(), *self._parts(name, values, 0))
            for name in self.series
        }

    def refuse(self) -> None:
        """The record that was judged last is set aside after all."""
        for column in self.columns.values():
            column.refuse()

    def gaps(self) -> Iterator[tuple[str, int, int]]:
        """Series, first and last number of each stretch of a column's stated range that no accepted record has."""
        for name, column in self.columns.items():
            for first, last in column.gaps():
                yield name, first, last

    def _text(self, name: str, nth: int, values: Mapping[str, str], row: int) -> str:
        if name in self.columns:
            return values[str(self._job.model.series[name].column)]
        index = self.firsts.get(name, 0) + nth
        begun, ready = self._ready.get(name, (0, _NONE))
        if 0 <= index - begun < len(ready):
            return ready[index - begun]
        if self._affixes[name] == (None, None):
            return self._made_ready(name, index)
        number = self._number(name, index)
        prefix, suffix = self._parts(name, values, row)
        try:
            return self.series[name].written(number, prefix, suffix)
        except CallerError as error:
            raise RowRefused(f"{fault.where}: {fault.message}" for fault in error.faults) from error

    def _made_ready(self, name: str, index: int) -> str:
        series = self.series[name]
        series.number(index)  # says so when the series is exhausted
        ready = list(series.texts(index, min(BLOCK, series.capacity - index)))
        self._ready[name] = (index, ready)
        return ready[0]

    def _parts(self, name: str, values: Mapping[str, str], row: int) -> tuple[str | None, str | None]:
        """What the record gives for prefix and suffix; None where it gives nothing."""
        prefix, suffix = self._affixes[name]
        if prefix is None and suffix is None:
            return None, None
        context = self._job.context(values, {}, row)
        return (
            prefix.render(context) if prefix is not None else None,
            suffix.render(context) if suffix is not None else None,
        )

    def _number(self, name: str, index: int) -> int:
        begun, numbers = self._blocks.get(name, (0, []))
        if not 0 <= index - begun < len(numbers):
            series = self.series[name]
            series.number(index)  # says so when the series is exhausted
            begun, numbers = index, list(series.numbers(index, min(BLOCK, series.capacity - index)))
            self._blocks[name] = (begun, numbers)
        return numbers[index - begun]
