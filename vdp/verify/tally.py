"""Everything that was found, put together: what only the whole file can show, and what findings mean together.

Lives here: repeated serials and pages, unlike artwork, and swaps (codes, sides, rows) told apart from plain faults.
Not here: examining (`chunk`), the order of work (`judge`).
"""

from __future__ import annotations

import hashlib
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

import numpy as np

from vdp.errors import Finding
from vdp.verify.grade.told import lowest
from vdp.verify.manifest import PieceLine, read_pieces
from vdp.verify.outcome import Found, Outcome, Stranger
from vdp.verify.pages import Sheet
from vdp.verify.view import FormSeen

#: Findings of one code that are told in full.
MOST = 1000
#: Pieces unlike their rows that are compared with each other's rows.
MOST_UNLIKE = 40
#: What a side or a piece shows when it is another's; one finding then stands for all of these.
_OF_ANOTHER = frozenset(
    ("symbol-misread", "symbol-swapped", "serial-wrong", "serial-missing", "text-missing", "text-extra", "image-wrong")
)
_OF_ANOTHER_ROW = frozenset(("text-missing", "text-extra", "image-wrong", "payload-wrong", "symbol-misread"))
SIDES = ("front", "back")


def _hash(*parts: str) -> int:
    return int.from_bytes(hashlib.blake2b("\0".join(parts).encode(), digest_size=8).digest(), "big")


class Tally:
    """Grows by outcomes; `findings` at the end.  `told` hears of each as it comes, before swaps are told apart."""

    def __init__(self, told: Callable[[Finding], None] | None = None) -> None:
        self._told = told
        self.found: list[Found] = []
        self.total = Outcome()
        self._serials: list[int] = []
        self._pages: list[int] = []
        self._codes: Counter[str] = Counter()
        self._drawn: Counter[tuple[object, ...]] = Counter()

    def tell(self, piece: int, code: str, where: str, message: str, side: int = -1) -> None:
        """Adds a finding; of one code only the first `MOST` are kept whole."""
        self._codes[code] += 1
        if self._codes[code] <= MOST:
            self.found.append(Found(piece, side, code, where, message))
            if self._told is not None:
                self._told(Finding(code, where, message))

    def piece(self, piece: PieceLine) -> None:
        """Notes the serials of a manifest line."""
        self._serials += [_hash(name, text) for name, text in piece.serials.items()]

    @property
    def unique(self) -> int:
        """How many different serials the manifest has."""
        return len(np.unique(np.array(self._serials, np.uint64)))

    def take(self, outcome: Outcome) -> None:
        """Adds a chunk's outcome."""
        total = self.total
        for found in outcome.found:
            self.tell(found.piece, found.code, found.where, found.message, found.side)
        total.pages += outcome.pages
        total.expected += outcome.expected
        total.decoded += outcome.decoded
        total.serials += outcome.serials
        total.lines += outcome.lines
        self._pages += [number << 16 | generation for number, generation in outcome.objects]
        for sheet, page in outcome.sheets.items():
            total.sheets.setdefault(sheet, page)
        for spot, signatures in outcome.separations.items():
            for signature, page in signatures.items():
                total.separations.setdefault(spot, {}).setdefault(signature, page)
        total.glyphs |= outcome.glyphs
        total.thinnest = min((one for one in (total.thinnest, outcome.thinnest) if one is not None), default=None)
        total.strangers += outcome.strangers[: MOST - len(total.strangers)]
        total.graded = [*lowest((*total.graded, *outcome.graded))]
        if outcome.shot is not None and (total.shot is None or outcome.shot.graded.order < total.shot.graded.order):
            total.shot = outcome.shot
        total.unlike += outcome.unlike[: MOST_UNLIKE - len(total.unlike)]
        for key, drawn in outcome.art.items():
            for forms, pages in drawn.items():
                self._drawn[key, forms] += len(pages)
                known = total.art.setdefault(key, {}).setdefault(forms, [])
                known += pages[: MOST - len(known)]

    # -- what only the whole file shows -------------------------------------------------------------------------------

    def whole(self, manifest: Path, due: Sheet | None, with_art: Callable[[str], bool]) -> None:
        """Judges pages, plates and serials over the whole file.  `due` is the sheet that the job asks for."""
        self._sheets(due)
        for spot, signatures in self.total.separations.items():
            if len(signatures) > 1:
                pages = ", ".join(str(page) for page in sorted(set(signatures.values())))
                message = f"{spot} is described in {len(signatures)} ways (from pages {pages} on)"
                self.tell(0, "separation-differs", f"plate {spot}", message)
        numbers, counts = np.unique(np.array(self._pages, np.uint64), return_counts=True)
        for number, count in zip(numbers[counts > 1], counts[counts > 1], strict=True):
            self.tell(
                0, "page-repeated", f"object {int(number) >> 16}", f"the same page stands in the file {count} times"
            )
        self._art(with_art)
        self._repeated(manifest)

    def _sheets(self, due: Sheet | None) -> None:
        sheets = sorted(self.total.sheets.items(), key=lambda item: item[1])
        if not sheets:
            return
        wanted = due if due is not None else sheets[0][0]
        for sheet, page in sheets:
            if not _alike(sheet, wanted):
                boxes = "; ".join(
                    f"{name} {' '.join(f'{edge:g}' for edge in box)}"
                    for name, box in (("media", sheet.media), ("trim", sheet.trim), ("bleed", sheet.bleed))
                )
                self.tell((page + 1) // 2, "page-boxes", f"page {page}", f"it has the boxes {boxes}", (page - 1) & 1)

    def _art(self, with_art: Callable[[str], bool]) -> None:
        """Pages of a side with the same artwork must draw the same forms."""
        for key, drawn in self.total.art.items():
            side, names = key
            usual = max((self._drawn[key, forms], forms) for forms in drawn)[1]
            bare = any(with_art(name) for name in names) and not usual
            for forms, pages in drawn.items():
                if forms == usual and not bare:
                    continue
                for page in pages:
                    message = _art_message(forms, usual)
                    self.tell((page + 1) // 2, "art-wrong", f"page {page} ({SIDES[side]})", message, side)

    def _repeated(self, manifest: Path) -> None:
        hashes, counts = np.unique(np.array(self._serials, np.uint64), return_counts=True)
        doubled = {int(value) for value in hashes[counts > 1]}
        if not doubled:
            return
        first: dict[tuple[str, str], int] = {}
        for piece in read_pieces(manifest):
            for name, text in piece.serials.items():
                if _hash(name, text) not in doubled:
                    continue
                earlier = first.setdefault((name, text), piece.piece)
                if earlier != piece.piece:
                    where = f"piece {piece.piece}"
                    self.tell(
                        piece.piece, "serial-repeated", where, f"{name}: '{text}' is also that of piece {earlier}"
                    )

    # -- what findings mean together ----------------------------------------------------------------------------------

    def swaps(self, manifest: Path) -> None:
        """Tells a code or a whole side of another piece apart from one that merely says something wrong."""
        strangers = self.total.strangers
        # What several pieces have (a web address) is nobody's own, and no other's either.
        owners, shared = _owners(strangers, manifest)
        by_side: dict[tuple[int, int], list[Stranger]] = defaultdict(list)
        for stranger in strangers:
            by_side[stranger.piece, stranger.side].append(stranger)
        for (piece, side), evidence in by_side.items():
            says = [
                owners.get(text, 0)
                for one in evidence
                for text in (*one.said.values(), *one.serials)
                if text not in shared
            ]
            others = set(says) - {piece}
            if not says or len(others) != 1 or 0 in others:
                continue
            (other,) = others
            if not any(one.own or set(one.right) - shared for one in evidence):
                where = f"piece {piece}, {SIDES[side]} (page {2 * piece - 1 + side})"
                message = f"everything that can be told apart on it belongs to piece {other}"
                self._replace(piece, {side, -1}, _OF_ANOTHER, Found(piece, side, "side-swapped", where, message))
            elif any(one.said for one in evidence):
                self._rename(piece, side, "symbol-misread", "symbol-swapped", f"; that is piece {other}'s")

    def rows(self, fits: Callable[[int, int], bool]) -> None:
        """Tells pieces made from other rows.  `fits(piece, other)`: does `piece` show what `other`'s row gives?"""
        unlike = sorted(set(self.total.unlike))
        for piece in unlike:
            if not any(found.piece == piece and found.code == "text-missing" for found in self.found):
                continue
            for other in unlike:
                if other != piece and fits(piece, other):
                    message = f"it shows what the row of piece {other} gives"
                    found = Found(piece, -1, "row-swapped", f"piece {piece}", message)
                    self._replace(piece, {-1, 0, 1}, _OF_ANOTHER_ROW, found)
                    break

    def _replace(self, piece: int, sides: set[int], codes: Iterable[str], by: Found) -> None:
        gone = [f for f in self.found if f.piece == piece and f.side in sides and f.code in codes]
        self.found = [found for found in self.found if found not in gone]
        for found in gone:
            self._codes[found.code] -= 1
        self.tell(by.piece, by.code, by.where, by.message, by.side)

    def _rename(self, piece: int, side: int, old: str, new: str, more: str) -> None:
        for place, found in enumerate(self.found):
            if (found.piece, found.side, found.code) == (piece, side, old):
                self.found[place] = found._replace(code=new, message=found.message + more)
                self._codes[old] -= 1
                self._codes[new] += 1

    # -- the end ------------------------------------------------------------------------------------------------------

    def findings(self) -> list[Finding]:
        """All findings, those of the file first, then by piece."""
        ordered = sorted(self.found, key=lambda found: (found.piece, found.side))
        result = [Finding(found.code, found.where, found.message) for found in ordered]
        for code, count in sorted(self._codes.items()):
            if count > MOST:
                result.append(Finding(code, "pieces.pdf", f"and {count - MOST} more of this kind"))
        return result

    def worst(self, most: int = 10) -> tuple[int, ...]:
        """The pieces with the most findings."""
        counts = Counter(found.piece for found in self.found if found.piece)
        return tuple(piece for piece, _ in sorted(counts.items(), key=lambda item: (-item[1], item[0]))[:most])


def _alike(one: Sheet, other: Sheet) -> bool:
    """The same edges to a hundredth of a point; whether a page is plain is told by itself."""
    pairs = zip((*one.media, *one.trim, *one.bleed), (*other.media, *other.trim, *other.bleed), strict=True)
    return all(abs(a - b) < 0.01 for a, b in pairs)


def _art_message(forms: tuple[FormSeen, ...], usual: tuple[FormSeen, ...]) -> str:
    if not forms:
        return "it draws no artwork at all"
    return f"it draws {len(forms)} forms that are not, or not where, those of its like ({len(usual)})"


def _owners(strangers: Iterable[Stranger], manifest: Path) -> tuple[Mapping[str, int], frozenset[str]]:
    """Which piece owns what strange sides say: serials and payloads of the manifest → piece; and those of all that they
    say which several pieces have."""
    wanted = {text for one in strangers for text in (*one.said.values(), *one.serials, *one.right)}
    owners: dict[str, int] = {}
    shared: set[str] = set()
    if wanted:
        for piece in read_pieces(manifest):
            for text in (*piece.serials.values(), *(symbol.data for symbol in piece.symbols)):
                if text in wanted and owners.setdefault(text, piece.piece) != piece.piece:
                    shared.add(text)
    return owners, frozenset(shared)
