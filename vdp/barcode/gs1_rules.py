"""GS1 application identifiers (AIs): what each one holds, which ones end without FNC1, and what goes with what.

Lives here: the tables and the checks of one value.  Not here: reading and writing element strings (`gs1`), Digital Link
URIs (`digital_link`).

Facts from the GS1 Barcode Syntax Dictionary (2025, gs1/gs1-syntax-dictionary), which restates GS1 General
Specifications §3.  Left out, and so refused: AIs whose content needs rules that are not here (coupons 8110 and 8112,
GMN 8013, patient data 725n, positions 4309, DIGSIG 8030 and a few more).  Country and currency codes are checked for
form only, not looked up.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from vdp import checkdigit

_CLASSES = {"N": "0-9", "X": "!\"%&'()*+,\\-./0-9:;<=>?A-Z_a-z", "Y": "#\\-/0-9A-Z"}
_TAKES = {
    "N": "digits",
    "X": "characters of GS1's set 82 (letters, digits and !\"%&'()*+,-./:;<=>?_)",
    "Y": "characters of GS1's set 39 (capitals, digits, # - /)",
}


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of a value: `kind` N, X or Y; `least` to `most` characters; `rule`: name of a check, or "".

    `optional`: the value may end before it.
    """

    kind: str
    least: int
    most: int
    rule: str
    optional: bool


@dataclass(frozen=True, slots=True)
class Identifier:
    """An application identifier.

    `ends_itself`: its length is predefined (GS1 General Specifications §7.8.5), so no FNC1 follows it.
    `attribute`: a Digital Link URI may carry it in its query.
    """

    ai: str
    parts: tuple[Part, ...]
    ends_itself: bool
    attribute: bool

    def faults(self, value: str) -> list[str]:
        """What is wrong with `value`, as ends of a sentence that begins with the AI."""
        found: list[str] = []
        rest = value
        for part in self.parts:
            if part.optional and not rest:
                break
            piece, rest = rest[: part.most], rest[part.most :]
            if len(piece) < part.least:
                return [f"needs {self.extent()}, not {len(value)}"]
            if bad := re.search(f"[^{_CLASSES[part.kind]}]", piece):
                found.append(f"takes only {_TAKES[part.kind]}, not '{bad[0]}' (U+{ord(bad[0]):04X})")
            elif part.rule and (fault := _CHECKS[part.rule](piece)):
                found.append(fault)
        if rest:
            return [f"needs {self.extent()}, not {len(value)}"]
        return found

    def extent(self) -> str:
        """ "14 characters", "1 to 20 characters"."""
        least = sum(p.least for p in self.parts if not p.optional)
        most = sum(p.most for p in self.parts)
        return f"{least} characters" if least == most else f"{least} to {most} characters"


def _check_digit(value: str) -> str:
    if checkdigit.valid("gs1", value):
        return ""
    return f"has check digit {value[-1]}, and {checkdigit.check('gs1', value[:-1])} is right"


def _date(value: str, open_day: bool = False) -> str:
    year, month, day = (int(value[i : i + 2]) for i in (0, 2, 4))
    if not 1 <= month <= 12:
        return f"has no month {value[2:4]} (YYMMDD)"
    # Years stand in a window of a century around now (§7.12), in which every fourth is a leap year: 2000 was one.
    days = (31, 28 + (year % 4 == 0), 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)[month - 1]
    if not (0 if open_day else 1) <= day <= days:
        return f"has no day {value[4:6]} in month {value[2:4]} (YYMMDD)"
    return ""


def _clock(value: str) -> str:
    if value[:2] <= "23" and all(value[i : i + 2] <= "59" for i in range(2, len(value), 2)):
        return ""
    return f"has no time {value}"


def _piece_of_total(value: str) -> str:
    piece, total = value[:2], value[2:]
    return "" if "00" < piece <= total else f"counts piece {piece} of {total}"


def _percent(value: str) -> str:
    return "has a % that two hexadecimal digits do not follow" if re.search("%(?![0-9A-Fa-f]{2})", value) else ""


#: Each check returns "" or the end of a sentence that begins with the AI.
_CHECKS: Mapping[str, Callable[[str], str]] = {
    "csum": _check_digit,
    "date": _date,
    "day0": lambda value: _date(value, open_day=True),
    "time": _clock,
    "sixty": lambda value: "" if value <= "59" else f"has no minute or second {value}",
    "piece": _piece_of_total,
    "prefix": lambda value: "" if re.match("[0-9]{4}", value) else "does not begin with a GS1 Company Prefix",
    "pcenc": _percent,
    "zero": lambda value: "" if value.strip("0") == "" else f"begins with {value}, and 0 is right",
    "yesno": lambda value: "" if value in "01" else f"is {value}, and 0 or 1 are right",
    "plain": lambda value: "begins with a 0" if value.startswith("0") and len(value) > 1 else "",
    "minus": lambda value: "" if value == "-" else f"ends in '{value}', and only - may stand there",
    "upper2": lambda value: "" if re.fullmatch("[A-Z]{2}", value) else f"is {value}, not two capitals",
}

#: Format → AIs; "nn-mm" is a range.  A part is its kind and length, then the check after a comma; [ ] is optional.
_FORMATS: Mapping[str, str] = {
    "N18,csum": "00 8017 8018",
    "N17,csum": "402",
    "N14,csum": "01 02 03",
    "N13,csum": "410-417",
    "N13,csum [X..17]": "253",
    "N13,csum [N..12]": "255",
    "N1,zero N13,csum [X..16]": "8003",
    "N14,csum N4,piece": "8006 8026",
    "N6,day0": "11 12 13 15 16 17",
    "N6,date": "4326 7006",
    "N6,day0 N4,time": "4324 4325",
    "N6,date N4,time": "7003",
    "N6,date [N6,date]": "7007",
    "N6,date [N4,time]": "7011",
    "N6,date N2,time [N2,sixty] [N2,sixty]": "8008",
    "N2": "20",
    "N3": "422 424 426",
    "N3 [N3] [N3] [N3] [N3]": "423 425",
    "N4": "3940-3943 8111",
    "N6": (
        "3100-3105 3110-3115 3120-3125 3130-3135 3140-3145 3150-3155 3160-3165 3200-3205 3210-3215 3220-3225 3230-3235 "
        "3240-3245 3250-3255 3260-3265 3270-3275 3280-3285 3290-3295 3300-3305 3310-3315 3320-3325 3330-3335 3340-3345 "
        "3350-3355 3360-3365 3370-3375 3400-3405 3410-3415 3420-3425 3430-3435 3440-3445 3450-3455 3460-3465 3470-3475 "
        "3480-3485 3490-3495 3500-3505 3510-3515 3520-3525 3530-3535 3540-3545 3550-3555 3560-3565 3570-3575 3600-3605 "
        "3610-3615 3620-3625 3630-3635 3640-3645 3650-3655 3660-3665 3670-3675 3680-3685 3690-3695 3950-3955 8005"
    ),
    "N6 [X1,minus]": "4330-4333",
    "N13": "7001",
    "N1,yesno": "4321-4323",
    "N..4": "7004",
    "N..6": "242",
    "N..8": "30 37",
    "N..10": "8019",
    "N..12,plain": "8011",
    "N..15": "3900-3909 3920-3929",
    "N3 N..15": "3910-3919 3930-3939",
    "X..2": "7010",
    "X..3": "427 7008",
    "N3 X..9": "421",
    "X..10": "7009",
    "X..12": "7005",
    "X..20": "10 21 22 243 254 420 4318 7020 7021 7022 710-716 7240 8002 8012",
    "X..25": "8020",
    "N3 X..27": "7030-7039",
    "X..28": "235",
    "X2 X..28": "7230-7239",
    "X..30": "240 241 250 251 400 403 4308 4319 7002 90",
    "X..30,prefix": "401 7023 8004",
    "X..35,pcenc": "4300 4301 4310 4311 4320",
    "X..50": "8009",
    "X..70": "8200",
    "X..70,pcenc": "4302-4306 4312-4316",
    "X..90": "91-99",
    "X2,upper2": "4307 4317",
    "Y..30,prefix": "8010",
}

#: First two digits of AIs whose length is predefined (GS1 General Specifications §7.8.5).
_ENDS_ITSELF = frozenset(f"{n:02d}" for n in (*range(5), *range(11, 21), *range(31, 37), 41))

#: AIs that a Digital Link URI must not carry in its query: qualifiers of keys, and those with no meaning there.
_NO_ATTRIBUTE = frozenset(("03", "21", "22", "235", "254", "8011", "8019", "8020", "8200"))

#: Alternatives, one of which must be present in the same item's symbols → the AIs that need it.
_NEEDS: tuple[tuple[str, str], ...] = (
    ("01 02 03 8006 8026", "10 11 13 15 16"),
    ("01 02 03 255 8006 8026", "17"),
    ("01 02 8006 8026", "20 240 241 242 422 7001"),
    ("01 03 8006", "21"),
    ("01 8006", "250 251 7020 7021 7240 8012"),
    ("01", "22 235 243 337n 392n 7004 710-716 8200"),
    ("01 02", "30 310n 311n 312n 313n 314n 315n 316n 320n 321n 322n 323n 324n 325n 326n 327n 328n 329n"),
    ("01 02", "350n 351n 352n 356n 357n 360n 361n 364n 365n 366n 423-427 8005 8008"),
    ("01 02", "7002 7003 7005-7011 7030-7039"),
    ("00 01", "330n 331n 332n 333n 334n 335n 336n 340n 341n 342n 343n 344n 345n 346n 347n 348n 349n 8009"),
    ("00 01", "353n 354n 355n 362n 363n 367n 368n 369n"),
    ("00", "37 403 4300-4302 4304-4308 4310-4312 4314-4326 4330-4333"),
    ("02 8026", "37"),
    ("30 31nn 32nn 35nn 36nn", "392n 393n 395n"),
    ("255 8020", "390n"),
    ("255", "394n 8111"),
    ("01 8004", "7230-7239"),
    ("8020", "12 391n 415"),
    ("415", "8020"),
    ("414", "254"),
    ("416", "7020"),
    ("422", "427"),
    ("10", "7004"),
    ("21", "250"),
    ("37", "02 8026"),
    ("4302", "4303"),
    ("4312", "4313"),
    ("7021", "7022"),
    ("8010", "8011"),
    ("8017 8018", "8019"),
)

#: AIs that must not stand together: any of the first with any of the second.
_APART: tuple[tuple[str, str], ...] = (
    ("01", "02 03 255 37 8006"),
    ("02", "03"),
    ("03", "37"),
    ("21", "235"),
    ("255", "02 415 8006 8020 8026"),
    ("390n", "391n 394n 8111"),
    ("392n", "393n"),
    ("394n", "8111"),
    ("395n", "392n 393n 8005"),
    ("420", "421"),
    ("421", "4307"),
    ("426", "422-425"),
    ("4330", "4331"),
    ("4332", "4333"),
    ("8006", "37"),
    ("8017", "8018"),
    ("8026", "02 8006"),
)


def _expand(listed: str) -> Iterator[str]:
    for word in listed.split():
        first, _, last = word.partition("-")
        yield from (
            (f"{n:0{len(first)}d}" for n in range(int(first), int(last or first) + 1)) if first.isdigit() else (word,)
        )


def _parts(written: str) -> tuple[Part, ...]:
    found = []
    for optional, kind, upto, length, rule in re.findall(r"(\[?)([NXY])(\.\.)?(\d+)(?:,(\w+))?", written):
        found.append(Part(kind, 1 if upto else int(length), int(length), rule, bool(optional)))
    return tuple(found)


IDENTIFIERS: Mapping[str, Identifier] = MappingProxyType(
    {
        ai: Identifier(ai, _parts(written), ai[:2] in _ENDS_ITSELF, ai not in _NO_ATTRIBUTE)
        for written, listed in _FORMATS.items()
        for ai in _expand(listed)
    }
)


def _matches(pattern: str, ai: str) -> bool:
    """Whether `ai` is `pattern`, in which n stands for any digit."""
    return len(pattern) == len(ai) and all(p in ("n", a) for p, a in zip(pattern, ai, strict=True))


@lru_cache(maxsize=1024)
def clashes(ais: tuple[str, ...]) -> tuple[str, ...]:
    """Sentences on AIs that must not stand together in one element string.  The records of a job share their AIs."""
    found = [f"({ai}) stands twice" for ai in dict.fromkeys(ais) if ais.count(ai) > 1]
    # Measures of one kind: (3102) and (3103) both tell the net weight.
    for kind in sorted({ai[:3] for ai in ais if "310" <= ai[:3] <= "395" and len(ai) == 4}):
        alike = sorted({ai for ai in ais if len(ai) == 4 and ai.startswith(kind)})
        if len(alike) > 1:
            found.append(f"({alike[0]}) and ({alike[1]}) tell the same thing twice")
    for left, right in _APART:
        for a in _listed(left, ais):
            found += [f"({a}) must not stand with ({b})" for b in _listed(right, ais)]
    return tuple(dict.fromkeys(found))


@lru_cache(maxsize=1024)
def lacks(ais: tuple[str, ...]) -> tuple[str, ...]:
    """Sentences on AIs whose partner is not there: it may be in another symbol on the same item."""
    found = []
    for partners, listed in _NEEDS:
        if not _listed(partners, ais):
            wanted = ", ".join(f"({p})" for p in partners.split())
            found += [f"({ai}) needs one of {wanted} on the same item" for ai in _listed(listed, ais)]
    return tuple(found)


def _listed(listed: str, ais: tuple[str, ...]) -> list[str]:
    """Those of `ais` that a list of AIs, ranges and patterns names."""
    patterns = list(_expand(listed))
    return [ai for ai in ais if any(_matches(pattern, ai) for pattern in patterns)]
