"""The job's series, ready to count: settings, the keys they need, and the fields of the records that go into them.

Not here: which number comes next (the ledger), a plan's other parts (`build`).  Workers compose without keys, so the
series are no part of a Plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from vdp.errors import CallerError, Fault
from vdp.job.load import Job
from vdp.job.replacing import replacement_faults
from vdp.job.series import Series as Spec
from vdp.job.series import varies
from vdp.job.template import Template, compile_text
from vdp.numbering.keys import read_key
from vdp.numbering.series import Series
from vdp.records.faults import did_you_mean

#: The parts of a serial that may be templates.
AFFIXES = ("prefix", "suffix")


def numbering_of(job: Job, environ: Mapping[str, str]) -> dict[str, Series]:
    """Raises CallerError with everything that is wrong with the settings or with a key; `environ` may hold keys."""
    made: dict[str, Series] = {}
    faults = list(replacement_faults(job))
    for name, spec in job.model.series.items():
        try:
            made[name] = _series(job, name, spec, environ)
            if spec.replacement is not None:
                _series(job, name, spec.replacing(), environ)
        except CallerError as error:
            faults.extend(_placed(job, name, fault) for fault in error.faults)
    if faults:
        raise CallerError(faults)
    return made


def affixes_of(job: Job, name: str) -> tuple[Template | None, Template | None]:
    """The templates of a series' prefix and suffix; None for one that no record changes."""
    spec = job.model.series[name]
    where = (job.where("job", "series", name, key) for key in AFFIXES)
    prefix, suffix = (
        compile_text(text, at) if varies(text) else None
        for text, at in zip((spec.prefix, spec.suffix), where, strict=True)
    )
    return prefix, suffix


def numbering_faults(job: Job, header: tuple[str, ...]) -> Iterator[Fault]:
    """Fields that series name and the records do not have."""
    for name, spec in job.model.series.items():
        if spec.column is not None and spec.column not in header:
            where = job.where("job", "series", name, "column")
            yield Fault(where, f"the records have no field '{spec.column}'", did_you_mean(spec.column, header))
        for key, template in zip(AFFIXES, affixes_of(job, name), strict=True):
            for field in sorted(template.names - set(header)) if template is not None else ():
                where = job.where("job", "series", name, key)
                yield Fault(where, f"the records have no field '{field}'", did_you_mean(field, header))


def _series(job: Job, name: str, spec: Spec, environ: Mapping[str, str]) -> Series:
    where = job.where("job", "series", name, "key")
    if spec.key is not None and not spec.keyed:
        message = "nothing of this series needs a key"
        raise CallerError.one(where, message, "state 'shuffled: true' or 'code:', or leave the key out")
    varying, varying_suffix = varies(spec.prefix), varies(spec.suffix)
    return Series(
        spec.ledger_name(name),
        "" if varying else spec.prefix,
        spec.start,
        spec.step,
        spec.width,
        "" if varying_suffix else spec.suffix,
        spec.check,
        last=spec.last,
        alphabet=spec.alphabet,
        groups=spec.groups,
        separator=spec.separator,
        varying=varying,
        varying_suffix=varying_suffix,
        shuffled=spec.shuffled,
        code=spec.code,
        key=read_key(spec.key, where, job.folder, environ) if spec.key is not None else b"",
    )


def _placed(job: Job, name: str, fault: Fault) -> Fault:
    """A fault of a series' settings is one of the job file."""
    if fault.where not in (f"series {name}", f"series {name}.replacement"):
        return fault
    return Fault(job.where("job", "series", name), f"{fault.where}: {fault.message}", fault.mend)
