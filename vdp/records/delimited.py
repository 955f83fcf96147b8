"""Delimited text (CSV) as records: its encoding, its delimiter, and the stream of its fields.

Lives here: choosing how to decode and split, and splitting.  Not here: saying where a broken file is broken
(`breakage`), widths, headers and normalisation (`table`), rules (`rules`).
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Generator, Iterator
from dataclasses import dataclass

from vdp.errors import CallerError
from vdp.records import breakage
from vdp.records.breakage import FIELD_LIMIT, LINE_LIMIT, LineTooLong, NulSeen
from vdp.records.faults import Faults, quote
from vdp.records.spec import Records

SAMPLE_BYTES = 65_536
CANDIDATES = (",", ";", "\t", "|")
NAMES = {",": "','", ";": "';'", "\t": "'tab'", "|": "'|'"}

# The UTF-32 mark begins with the UTF-16 one, so it is looked for first.
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", ("utf-8", "utf-8-sig")),
    (codecs.BOM_UTF32_LE, "utf-32", ("utf-32", "utf-32-le")),
    (codecs.BOM_UTF32_BE, "utf-32", ("utf-32", "utf-32-be")),
    (codecs.BOM_UTF16_LE, "utf-16", ("utf-16", "utf-16-le")),
    (codecs.BOM_UTF16_BE, "utf-16", ("utf-16", "utf-16-be")),
)
# Python offers these as text encodings, but they rewrite text instead of decoding a file.
_NOT_FOR_FILES = frozenset({"idna", "punycode", "unicode-escape", "raw-unicode-escape", "undefined", "utf-7"})


@dataclass(frozen=True, slots=True)
class Delimited:
    """How one delimited file is read.  `encoding` is the codec's name, `delimiter` one character."""

    shown: str
    encoding: str
    delimiter: str

    def read(
        self,
        handle: io.BufferedReader,
        faults: Faults,  # noqa: ARG002 - Workbook collects, text breaks off
        *,
        again: bool = False,
    ) -> Generator[list[str]]:
        """Yield every record's fields, the header's first, a blank line as an empty list; `again` where the same bytes
        were read to their end before, so that no line needs a look.

        Raises CallerError with row and column at bytes that do not decode, a NUL, a quote that is never closed
        or closed too early, a field over `FIELD_LIMIT` or a line over `LINE_LIMIT` characters.
        """
        handle.seek(0)
        # The limit belongs to the csv module, not to a reader: it is set before every reading.
        csv.field_size_limit(FIELD_LIMIT)
        text = io.TextIOWrapper(handle, encoding=self.encoding, errors="strict", newline="")
        try:
            yield from csv.reader(text if again else _lines(text), delimiter=self.delimiter, strict=True)
        except UnicodeDecodeError as error:
            fault = breakage.undecodable(handle, self.shown, self.encoding, self.delimiter, error.reason)
            raise CallerError([fault]) from error
        except NulSeen as error:
            raise CallerError([breakage.nul(handle, self.shown, self.encoding, self.delimiter)]) from error
        except (csv.Error, LineTooLong) as error:
            raise CallerError([breakage.unsplittable(handle, self.shown, self.encoding, self.delimiter)]) from error
        finally:
            text.detach()


def open_delimited(handle: io.BufferedReader, spec: Records, shown: str) -> Delimited:
    """Decide encoding and delimiter from the job and the file's beginning.  Raises CallerError."""
    handle.seek(0)
    head = handle.read(SAMPLE_BYTES)
    encoding = choose_encoding(head, spec.encoding, shown)
    if spec.delimiter is not None:
        delimiter: str = "\t" if spec.delimiter == "tab" else spec.delimiter
    else:
        sample = codecs.getincrementaldecoder(encoding)(errors="replace").decode(head, final=False)
        delimiter = choose_delimiter(sample, len(head) == SAMPLE_BYTES, shown)
    return Delimited(shown, encoding, delimiter)


def choose_encoding(head: bytes, named: str | None, shown: str) -> str:
    """The codec for a file that begins with `head`: its byte order mark, else the job's word, else UTF-8.

    Never a guess.  Raises CallerError for a name that is no encoding, one that contradicts the mark, and
    UTF-16 or UTF-32 without a mark or a byte order.
    """
    name = None if named is None else _codec(named, shown)
    for mark, codec, names in _MARKS:
        if head.startswith(mark):
            if name is not None and name not in names:
                raise CallerError.one(
                    shown,
                    f"the job says the list is in {named}, but it begins with the mark of {names[0]}",
                    "correct the job's records.encoding, or leave it out",
                )
            return codec
    if name in {"utf-16", "utf-32"}:
        raise CallerError.one(
            shown,
            f"the list has no byte order mark, so {named} does not say which byte comes first",
            f"set records.encoding to {name}-le or {name}-be",
        )
    return name or "utf-8"


def _codec(named: str, shown: str) -> str:
    try:
        name = codecs.lookup(named).name
        "".encode(name)
    except (LookupError, UnicodeError, ValueError):
        name = "undefined"
    if name.replace("_", "-") in _NOT_FOR_FILES:
        raise CallerError.one(
            shown,
            f"the job's records.encoding {quote(named)} is not a text encoding known here",
            "use a name such as utf-8, utf-16, cp1252 or iso-8859-2",
        )
    return name


def choose_delimiter(sample: str, cut: bool, shown: str) -> str:
    """The delimiter of a text that begins with `sample` (`cut`: and goes on after it).

    Of the candidates that split the header, the one whose count of fields most records keep.  Equal ones are
    refused, never chosen between; a header that nothing splits has one column.
    """
    shares: dict[str, float] = {}
    for candidate in CANDIDATES:
        widths = _widths(sample, candidate, cut)
        if widths and widths[0] > 1:
            shares[candidate] = sum(width == widths[0] for width in widths) / len(widths)
    if not shares:
        return ","
    best = max(shares.values())
    chosen = [candidate for candidate, share in shares.items() if share == best]
    if len(chosen) > 1:
        raise CallerError.one(
            shown,
            f"the delimiter may be {' or '.join(NAMES[c] for c in chosen)}: both split every record alike",
            "say which in the job's records.delimiter",
        )
    return chosen[0]


def _widths(sample: str, delimiter: str, cut: bool) -> list[int]:
    widths: list[int] = []
    try:
        # An empty list is a blank line; `table` judges those.
        widths.extend(len(row) for row in csv.reader(io.StringIO(sample, newline=""), delimiter=delimiter) if row)
    except csv.Error:
        # Broken quoting is told later, with its row; what was split until then is enough to choose by.
        cut = False
    return widths[:-1] if cut and len(widths) > 1 else widths


def _lines(text: io.TextIOWrapper) -> Iterator[str]:
    while line := text.readline(LINE_LIMIT):
        if "\0" in line:
            raise NulSeen
        if len(line) == LINE_LIMIT:
            raise LineTooLong
        yield line
