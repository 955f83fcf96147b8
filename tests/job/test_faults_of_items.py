"""Every kind of fault of a layout's items, with a job that is right: the place, the words, the way out."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job.made import BOX, item, told

ITEMS: list[tuple[str, str, list[str]]] = [
    (
        "no-kind",
        "size: 9 pt\nface: sans",
        [
            (
                "layout.yaml:3:5: item 1 of the front: nothing says what this item is: it needs one of the keys "
                "art, text, number, image, barcode, microtext, line, box"
            )
        ],
    ),
    (
        "two-kinds",
        f"text: a\nimage: b\n{BOX}",
        ["layout.yaml:3:5: item 1 of the front: an item is one thing, this one has the keys text and image"],
    ),
    (
        "not-an-item",
        "hello",
        [
            (
                "layout.yaml:3:5: item 1 of the front: an item is a mapping with one of the keys "
                "art, text, number, image, barcode, microtext, line, box"
            )
        ],
    ),
    ("key-of-another-kind", f"text: a\n{BOX}\nwieght: 1 pt", ["layout.yaml:5:5: unknown key 'wieght'"]),
    ("unknown-key", f"text: a\n{BOX}\nsise: 1 pt", ["layout.yaml:5:5: unknown key 'sise' (did you mean 'size'?)"]),
    ("missing-box", "text: a", ["layout.yaml:3:5: 'box' is missing"]),
    ("short-box", "text: a\nbox: [0, 0, 9 mm]", ["layout.yaml:4:10: 'box': there are too few values"]),
    (
        "long-box",
        "text: a\nbox: [0, 0, 9 mm, 9 mm, 0]",
        ["layout.yaml:4:10: 'box': there are too many values, 4 are the most"],
    ),
    (
        "no-unit",
        "text: a\nbox: [0, 0, 9 mm, 9]",
        ["layout.yaml:4:23: 'box': 9 has no unit: write '9 mm', '9 in' or '9 pt'"],
    ),
    (
        "unit",
        f"text: a\n{BOX}\nsize: 3 cm",
        ["layout.yaml:5:11: 'size': 'cm' is not a unit of length: use mm, in or pt"],
    ),
    (
        "length",
        f"text: a\n{BOX}\nsize: [3]",
        ["layout.yaml:5:11: 'size': a length is a number and a unit, such as '3 mm'"],
    ),
    (
        "length-true",
        f"text: a\n{BOX}\nsize: true",
        ["layout.yaml:5:11: 'size': a length is a number and a unit, such as '3 mm'"],
    ),
    (
        "negative",
        "text: a\nbox: [-3 mm, 0, -9 mm, 9 mm]",
        ["layout.yaml:4:21: 'box': must be more than 0, not '-9 mm'"],
    ),
    ("size-0", f"text: a\n{BOX}\nsize: 0", ["layout.yaml:5:11: 'size': must be more than 0, not '0'"]),
    (
        "least",
        f"text: a\n{BOX}\nsize: 8 pt\nleast: 9 pt",
        ["layout.yaml:6:12: 'least': 'least' (9 pt) is larger than 'size' (8 pt)"],
    ),
    (
        "least-of-default",
        f"text: a\n{BOX}\nleast: 11 pt",
        ["layout.yaml:5:12: 'least': 'least' (11 pt) is larger than 'size' (10 pt)"],
    ),
    (
        "two-inks",
        f"text: a\n{BOX}\nplate: Clear\ncolour: [0, 0, 0, 100]",
        ["layout.yaml:6:13: 'colour': state a plate or a colour, not both"],
    ),
    ("tint", f"{BOX}\ntint: 101", ["layout.yaml:4:11: 'tint': must be at most 100, not '101'"]),
    ("tint-text", f"{BOX}\ntint: half", ["layout.yaml:4:11: 'tint': must be a number, not 'half'"]),
    ("plate", f"{BOX}\nplate: Claer", ["layout.yaml:4:12: there is no plate 'Claer' (did you mean 'Clear'?)"]),
    ("plate-case", f"{BOX}\nplate: clear", ["layout.yaml:4:12: there is no plate 'clear' (did you mean 'Clear'?)"]),
    (
        "process-plate",
        f"{BOX}\nplate: Magnta",
        ["layout.yaml:4:12: there is no plate 'Magnta' (did you mean 'Magenta'?)"],
    ),
    ("face", f"text: a\n{BOX}\nface: serf", ["layout.yaml:5:11: there is no face 'serf' (did you mean 'serif'?)"]),
    ("series", f"number: mian\n{BOX}", ["layout.yaml:3:13: there is no series 'mian' (did you mean 'main'?)"]),
    ("turn", f"{BOX}\nturn: 45", ["layout.yaml:4:11: 'turn': must be 0, 90, 180 or 270, not '45'"]),
    (
        "align",
        f"text: a\n{BOX}\nalign: center",
        ["layout.yaml:5:12: 'align': must be start, centre, end, left or right, not 'center' (did you mean 'centre'?)"],
    ),
    (
        "name",
        f"{BOX}\nname: 1st",
        [
            (
                "layout.yaml:4:11: 'name': '1st' cannot be a name "
                "(letters, digits, _ and -, a letter first, 40 characters at most)"
            ),
        ],
    ),
    (
        "barcode-kind",
        "barcode: code_128\ndata: a\nat: [0, 0]\nx: 1 pt",
        [
            (
                "layout.yaml:3:14: 'barcode': must be code128, gs1-128, s10, code39, itf, itf14, ean13, ean8, upca, "
                "upce, qr, gs1-qr, micro-qr, datamatrix, gs1-datamatrix, pdf417, aztec, imb, rm4scc or kix, "
                "not 'code_128' (did you mean 'code128'?)"
            )
        ],
    ),
    (
        "code128-height",
        "barcode: code128\ndata: a\nat: [0, 0]\nx: 1 pt",
        ["layout.yaml:3:5: 'height': code128 needs the height of its bars: write height: 12 mm"],
    ),
    (
        "qr-height",
        "barcode: qr\ndata: a\nat: [0, 0]\nx: 1 pt\nheight: 1 mm",
        ["layout.yaml:7:13: 'height': qr is as high as its modules make it: 'height' is for codes of bars"],
    ),
    (
        "level",
        "barcode: datamatrix\ndata: a\nat: [0, 0]\nx: 1 pt\nlevel: M\nversion: 3",
        [
            "layout.yaml:7:12: 'level': 'level' is for qr, gs1-qr and micro-qr, not for datamatrix",
            "layout.yaml:8:14: 'version': 'version' is for qr, gs1-qr and micro-qr, not for datamatrix",
        ],
    ),
    (
        "version",
        "barcode: qr\ndata: a\nat: [0, 0]\nx: 1 pt\nversion: 41",
        ["layout.yaml:7:14: 'version': must be at most 40, not '41'"],
    ),
    (
        "microtext-size",
        f"microtext: a\n{BOX}\nsize: 0.4 pt",
        ["layout.yaml:5:11: 'size': must be at least 0.5, not '0.4 pt'"],
    ),
    ("line", "line: 1 pt\nstart: [0, 0]", ["layout.yaml:3:5: 'end' is missing"]),
    ("art-missing", "art: no.pdf", ["layout.yaml:3:10: 'no.pdf' is not there"]),
    (
        "art-elsewhere",
        "art: ../a.pdf\npage: 0",
        [
            "layout.yaml:3:10: '../a.pdf' leads out of the job's folder",
            "layout.yaml:4:11: 'page': must be at least 1, not '0'",
        ],
    ),
    (
        "number-for-text",
        f"text: 007\n{BOX}",
        ["layout.yaml:3:11: 'text': must be text, and 007 without quotes is not (write '007' in quotes)"],
    ),
    (
        "language-number",
        f"text: {{en: 007, other: a}}\n{BOX}",
        ["layout.yaml:3:16: 'en': must be text, and 007 without quotes is not (write '007' in quotes)"],
    ),
    (
        "no-wording",
        f"text: {{}}\n{BOX}",
        [
            "layout.yaml:3:11: 'text': there are too few values",
            "layout.yaml:3:11: there is no text for en, de, el (add it, or a text for 'other')",
        ],
    ),
    (
        "language",
        f"text: {{en: a, dee: b, other: c}}\n{BOX}",
        ["layout.yaml:3:19: 'dee' is none of the languages of field 'lang' (did you mean 'de'?)"],
    ),
    (
        "language-left-out",
        f"text: {{en: a}}\n{BOX}",
        ["layout.yaml:3:11: there is no text for de, el (add it, or a text for 'other')"],
    ),
    (
        "template",
        f"text: '{{{{ name | uper }}}}'\n{BOX}",
        ["layout.yaml:3:11: template: there is no filter 'uper' (did you mean 'upper'?)"],
    ),
    (
        "template-of-a-language",
        f"text:\n  other: '{{{{ a.b }}}}'\n{BOX}",
        ["layout.yaml:4:14: template: '.b' cannot be asked for"],
    ),
    (
        "template-series",
        "barcode: qr\ndata: '{{ series.mian }}'\nat: [0, 0]\nx: 1 pt",
        ["layout.yaml:4:11: there is no series 'mian' (did you mean 'main'?)"],
    ),
    (
        "image-template",
        f"image: '{{{{ x'\n{BOX}",
        ["layout.yaml:3:12: template: unexpected end of template, expected 'end of print statement'."],
    ),
    (
        "microtext-template",
        f"microtext: '{{{{ x.y }}}}'\n{BOX}",
        ["layout.yaml:3:16: template: '.y' cannot be asked for"],
    ),
    ("condition", f"{BOX}\nwhen: a ==", ["layout.yaml:4:11: template: unexpected 'end of template'"]),
    (
        "condition-true",
        f"{BOX}\nwhen: true",
        ["layout.yaml:4:11: 'when': must be text, and true without quotes is not (write 'true' in quotes)"],
    ),
]


@pytest.mark.parametrize(("text", "expected"), [case[1:] for case in ITEMS], ids=[case[0] for case in ITEMS])
def test_faults_of_an_item(tmp_path: Path, text: str, expected: list[str]) -> None:
    assert told(tmp_path, layout=item(text)) == expected


def test_faults_of_a_layout(tmp_path: Path) -> None:
    assert told(tmp_path, layout="trim: [9 mm, 0]\nbleed: 3\nfront: 7\n") == [
        "layout.yaml:1:1: 'back' is missing",
        "layout.yaml:1:14: 'trim': must be more than 0, not '0'",
        "layout.yaml:2:8: 'bleed': 3 has no unit: write '3 mm', '3 in' or '3 pt'",
        "layout.yaml:3:8: 'front': must be a list, not '7'",
    ]
