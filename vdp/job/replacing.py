"""A job as a reprint under replacement numbers sees it: each series gives way to the one that the job names for it.

Not here: where replacement numbers begin (the ledger), making reprints (`run.reprint`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from vdp.errors import Fault
from vdp.job.load import Job
from vdp.job.series import Replacing, Series, varies


def replacing(job: Job) -> Job:
    """The same job, its series those of replacement numbers; a series that names none replaces its own."""
    series = {name: spec.replacing() for name, spec in job.model.series.items()}
    return replace(job, model=job.model.model_copy(update={"series": series}))


def replacement_faults(job: Job) -> Iterator[Fault]:
    """Replacements that nothing asks for, or whose serials could be those of the series that they replace."""
    for name, spec in job.model.series.items():
        if spec.replacement is None or isinstance(spec, Replacing):
            continue
        where = job.where("job", "series", name, "replacement")
        if job.model.spoiled != "replacement_series":
            message = "this job prints spoiled numbers again, so nothing replaces them"
            yield Fault(where, message, "write 'spoiled: replacement_series', or leave the replacement out")
        if could_meet(spec, spec.replacing()):
            message = f"its serials could be those of series {name}, and a number could be printed twice"
            yield Fault(where, message, "give it a prefix that begins otherwise, or a 'start' after the series' last")


def could_meet(one: Series, other: Series) -> bool:
    """Whether two series whose numbers are written alike could have a serial in common."""
    if _apart(_literal(one.prefix), _literal(other.prefix)):
        return False
    if (one.prefix, one.suffix) == (other.prefix, other.suffix):
        return _reaches(one, other.start) and _reaches(other, one.start)
    told = (one.prefix, one.suffix, other.prefix, other.suffix)
    if any(map(varies, told)):
        return True
    return len(one.prefix + one.suffix) == len(other.prefix + other.suffix) and not (
        one.prefix == other.prefix and len(one.suffix) == len(other.suffix)
    )


def _literal(affix: str) -> str:
    """What stands in a prefix before anything that a record gives."""
    return affix.partition("{")[0] if varies(affix) else affix


def _apart(one: str, other: str) -> bool:
    """Whether texts that begin so must differ."""
    return not (one.startswith(other) or other.startswith(one))


def _reaches(series: Series, number: int) -> bool:
    """Whether the series may go up to `number` or further."""
    return series.last is None or series.last >= number
