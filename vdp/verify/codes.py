"""Every finding the verifier can give: a stable code, never reused, and the sentence that explains it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from vdp.verify.conformance.codes import CONFORMANCE

CODES: Mapping[str, str] = MappingProxyType(
    {
        # -- the folder
        "file-missing": "a file of the run folder is not there",
        "file-changed": "a file of the run folder is not the one that report.json names",
        "file-unreadable": "a file of the run folder cannot be read",
        "count-differs": "records, pieces and rows set aside do not add up",
        "reader-differs": "a second, independent PDF reader sees other pages",
        # -- pages
        "page-missing": "there are fewer pages than two a piece",
        "page-extra": "there are more pages than two a piece",
        "page-repeated": "one page stands in the file more than once",
        "page-boxes": "a page is of another size, turned, or cut at other edges",
        "content-changed": "the content of a piece's pages is not what pieces.jsonl says",
        "cannot-judge": "a page cannot be judged, so it counts as bad",
        # -- plates
        "plate-unknown": "something is printed on a plate that the job does not have",
        "separation-differs": "a spot plate is not described by the same Separation everywhere",
        "clear-knockout": "a spot mark does not overprint",
        "clear-layer": "a spot mark is not in the layer of its plate",
        "clear-in-process": "a mark in a spot plate's layer is printed on process plates",
        "clear-covered": "another mark knocks a hole into a spot plate's marks",
        "black-in-colour": "black type or a black code is printed in cyan, magenta and yellow",
        # -- symbols
        "symbol-missing": "the layout asks for a symbol that the piece does not have",
        "symbol-unexpected": "the piece has a symbol that the layout does not ask for",
        "symbol-moved": "a symbol is not where the layout puts it",
        "symbol-unreadable": "a symbol cannot be read on its plate",
        "symbol-misread": "a symbol says something else than it should",
        "symbol-swapped": "a symbol says what another piece's symbol should",
        "symbol-damaged": "a symbol can be read, but part of it is wrong or covered",
        "symbol-quiet": "something is printed in a symbol's quiet zone",
        "symbol-weak": "the dark modules of a symbol have too little ink",
        "symbol-size": "X-dimension, reduction, bar height or postal sizes of a symbol are not what they must be",
        "symbol-grade": "the simulated print of a symbol is graded lower than the job asks for",
        "symbol-wrong-plate": "a symbol can be read on a plate where it must not be",
        "human-text-wrong": "the text that a symbol has for people is not what it says, or is missing",
        # -- serials
        "serial-missing": "a piece does not show its serial",
        "serial-wrong": "a piece shows another serial than its own",
        "serial-repeated": "two pieces have the same serial",
        "serial-check": "the check characters of a serial are wrong",
        # -- pieces against their rows
        "row-missing": "a row of the records is neither a piece nor set aside",
        "row-repeated": "a row of the records was used more than once",
        "row-order": "the pieces are not in the order of the records",
        "row-swapped": "a piece was made from another row's data",
        "side-swapped": "a side belongs to another piece",
        "payload-wrong": "a symbol's data is not what the piece's row gives",
        "text-missing": "words that the piece's row gives are not on the page",
        "text-extra": "an item shows letters that the piece's row does not give",
        "text-ink": "text is printed in another ink than the layout says",
        "line-broken": "a fine line is thinner on its plate than it is laid out",
        "type-broken": "a letter of small type loses parts or holes at the press's resolution",
        "image-wrong": "a picture is not the one that the piece's row names",
        "art-wrong": "a page does not carry the same artwork as its like",
        # -- finishing
        "glue-printed": "something is printed where glue must find bare paper",
        "counterfoil-missing": "a part of a counterfoil does not carry the piece's serial",
        # -- sheets
        "frame-missing": "a file of sheets has fewer pages than two a frame",
        "frame-extra": "a file of sheets has more pages than two a frame",
        "frame-wrong": "a frame of the sheets is another frame altogether",
        "frame-boxes": "a page of the sheets is of another size, turned, or cut at other edges",
        "frame-code": "the code of a frame cannot be read, or says another run, roll, frame or lane",
        "slug-wrong": "the slug line of a frame says another roll, frame or side",
        "place-missing": "a piece has no place on the sheets, or one that does not exist",
        "place-repeated": "two pieces have the same place on the sheets",
        "place-wrong": "a place on the sheets does not hold the piece that it should, byte for byte",
        "place-moved": "something on a sheet is drawn beside its place",
        "place-order": "a piece is not where the job's order puts it on the sheets",
        "web-differs": "the sheets are not laid out as the job says",
        "back-wrong": "front and back of a place on the sheets belong to different pieces",
        "blank-printed": "a place that must be blank does not say so, or says more",
        "specimen-live": "a place that must hold a specimen does not say so, or says what a live piece says",
        "specimen-wrong": "a specimen is another than the report tells of, or its numbers and codes cannot be read",
        "mark-moved": "printer's marks of front and back do not coincide",
        "mark-missing": "a register mark does not lie whole on every plate",
        "mark-inside": "a printer's mark lies in a piece or its bleed",
        # -- PDF/X-4 and PDF/VT-1
        **CONFORMANCE,
    }
)
