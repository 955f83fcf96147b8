"""What is wrong with what a page paints.

Lives here: a rule a function, over the page's `Painted`.  Not here: the file and its boxes (`document`), toner
(`vdp.verify.coverage`).
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator, Mapping

import pikepdf

from vdp.verify.inks import PROCESS
from vdp.verify.preflight.concern import Concern, Wanted
from vdp.verify.preflight.painting import Painted, each

#: Places named for one rule on one page; the rest is counted.
MOST_PLACES = 5
#: Black of at least this much counts as black text, and other plates of more than this as not K only.
_DARK, _SOME = 0.85, 0.02
#: How alike two names of spots must be, 0 … 1, for the one to be a misspelling of the other.
_NEAR = 0.8

Rule = Callable[[list[Painted], Wanted], Iterator[tuple[str, Painted, str]]]


def judge_paintings(found: list[Painted], wanted: Wanted, page: int) -> Iterator[Concern]:
    """Every rule over everything painted on a page; the same complaint is told for at most MOST_PLACES places."""
    for rule in RULES:
        told: dict[tuple[str, str], int] = {}
        for code, painted, message in rule(found, wanted):
            times = told[code, message] = told.get((code, message), 0) + 1
            if times <= MOST_PLACES:
                yield Concern(code, page, painted.area, message)
        for (code, message), times in told.items():
            if times > MOST_PLACES:
                yield Concern(code, page, None, f"{message}; and so at {times - MOST_PLACES} more places")


def _pictures(found: list[Painted], wanted: Wanted) -> Iterator[tuple[str, Painted, str]]:
    limits = wanted.limits
    for picture in each(found, "picture"):
        ppi = min(picture.ppi or (0.0, 0.0))
        # A one-bit picture is line work: its edges are the pixels (common practice: twice what tones need).
        factor = 2 if picture.bits == 1 else 1
        if ppi < limits.ppi_least * factor:
            said = f"picture {picture.name} has {ppi:.0f} pixels an inch; {limits.ppi_least * factor:.0f} is the least"
            yield "art-picture-coarse", picture, said
        elif ppi < limits.ppi_good * factor:
            said = f"picture {picture.name} has {ppi:.0f} pixels an inch; {limits.ppi_good * factor:.0f} looks sharp"
            yield "art-picture-soft", picture, said


def _colours(found: list[Painted], wanted: Wanted) -> Iterator[tuple[str, Painted, str]]:
    for painted in found:
        kind = painted.shade.kind
        if kind not in ("rgb", "lab", "unknown"):
            continue
        name = {"rgb": "RGB", "lab": "Lab"}.get(kind, "an unknown colour space")
        said = f"{_noun(painted)} is painted in {name}{'' if painted.shade.calibrated else ' without a profile'}"
        converted = kind == "rgb" and painted.what == "picture" and wanted.limits.rgb_converted
        yield "art-colour-converted" if converted else "art-colour", painted, said


def _spots(found: list[Painted], wanted: Wanted) -> Iterator[tuple[str, Painted, str]]:
    plates = (*PROCESS, *wanted.spots)
    plain = {_plain(plate): plate for plate in plates}
    for painted in found:
        for name in painted.shade.names:
            if name in wanted.spots:
                yield "art-spot-shared", painted, f"{_noun(painted)} is painted on {name}, a spot plate of the job"
            elif name in plates or name == "None":
                continue
            elif name == "All":
                yield "art-spot-foreign", painted, f"{_noun(painted)} is painted on every plate at once"
            elif near := plain.get(_plain(name)) or next(iter(difflib.get_close_matches(name, plates, 1, _NEAR)), None):
                said = f"the spot '{name}' is not the job's plate '{near}', though it is named almost like it"
                yield "art-spot-near", painted, said
            else:
                yield "art-spot-foreign", painted, f"the spot '{name}' is no plate of the job"


def _plain(name: str) -> str:
    return "".join(character for character in name.casefold() if character.isalnum())


def _hairlines(found: list[Painted], wanted: Wanted) -> Iterator[tuple[str, Painted, str]]:
    least = wanted.limits.line_dots * 72 / wanted.dpi
    for painted in each(found, "stroke"):
        if painted.weight < least - 1e-4:
            thin = f"{painted.weight:.3f} pt ({painted.weight * wanted.dpi / 72:.1f} dots)"
            yield (
                "art-hairline",
                painted,
                f"a line of {thin}; {least:.3f} pt ({wanted.limits.line_dots} dots) is the least",
            )


def _white(found: list[Painted], _: Wanted) -> Iterator[tuple[str, Painted, str]]:
    for painted in found:
        # What DeviceCMYK leaves out is left alone only in mode 1; a grey or a spot of nothing overprints in both.
        hides = painted.overprint and (painted.shade.kind != "cmyk" or painted.mode == 1)
        if hides and painted.colour and painted.shade.white(painted.colour):
            yield "art-white-over", painted, f"white {_noun(painted, article=False)} overprints: it will vanish"


def _black_text(found: list[Painted], _: Wanted) -> Iterator[tuple[str, Painted, str]]:
    for painted in each(found, "text"):
        colour, kind = painted.colour, painted.shade.kind
        if kind == "cmyk" and len(colour) == 4 and colour[3] >= _DARK and max(colour[:3]) > _SOME:
            said = "black text is also on " + ", ".join(
                plate for plate, tint in zip(PROCESS, colour[:3], strict=False) if tint > _SOME
            )
            yield "art-black-text", painted, said
        elif kind == "cmyk" and len(colour) == 4 and colour[3] < _DARK and min(colour[:3]) >= _DARK:
            yield "art-black-text", painted, "black text is made of Cyan, Magenta and Yellow"
        elif kind == "rgb" and len(colour) == 3 and max(colour) <= 1 - _DARK:
            yield "art-black-text", painted, "black text is in RGB, so it prints in four colours"
        elif "All" in painted.shade.names:
            yield "art-black-text", painted, "text is on every plate at once"


def _see_through(found: list[Painted], _: Wanted) -> Iterator[tuple[str, Painted, str]]:
    for painted in found:
        spots = [name for name in painted.shade.names if name not in (*PROCESS, "All", "None")]
        if painted.see_through and spots:
            yield "art-spot-see-through", painted, f"{_noun(painted)} on {spots[0]} is transparent"


def _noun(painted: Painted, *, article: bool = True) -> str:
    word = {"picture": "picture", "fill": "area", "stroke": "line", "text": "text", "shading": "shading"}[painted.what]
    if not article or painted.what == "text":
        return word
    return f"{'an' if word == 'area' else 'a'} {word}"


RULES: tuple[Rule, ...] = (_pictures, _colours, _spots, _hairlines, _white, _black_text, _see_through)


def judge_fonts(fonts: Mapping[str, pikepdf.Object], page: int) -> Iterator[Concern]:
    """Every font that the page sets type in must be in the file (ISO 15930-7, 6.11: STANDARDS, F1)."""
    for font in fonts.values():
        kind = str(font.get("/Subtype", "/?"))[1:]
        name = str(font.get("/BaseFont", "/without a name"))[1:]
        if kind == "Type3":
            yield Concern("art-type-three", page, None, "a Type 3 font is used")
            continue
        inner = font["/DescendantFonts"][0] if kind == "Type0" else font
        described = inner.get("/FontDescriptor", pikepdf.Dictionary())
        if not any(key in described for key in ("/FontFile", "/FontFile2", "/FontFile3")):
            yield Concern("art-font", page, None, f"the font {name} ({kind}) is not embedded")
