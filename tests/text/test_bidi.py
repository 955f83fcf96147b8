"""UAX #9 against Unicode's BidiCharacterTest.txt (15.0, Debian package unicode-data)."""

from __future__ import annotations

from collections.abc import Callable

import icu

from vdp.text.bidi import find_levels, has_rtl, visual_order

# Where ICU 77.1 (Unicode 16) differs from the file: "code points;paragraph direction".  None is a difference between
# the versions of the standard; all are ICU's.  All but the third group need directional controls, which a name or an
# address does not hold, and the third a combining mark on a bracket at the end of a line.
_LISTED = (
    # X6a: isolates inside an override, tight between embeddings, and their closing PDI.
    "202E 0061 202A 0062 202C 2066 0063 2069 202A 0064 202C 0065 202C;2|"
    "202E 0061 202A 0062 202C 2066 0063 2069 202A 0064 202C 0065 202C;1|"
    "202D 05D0 202B 05D1 202C 2068 05D2 2069 202B 05D3 202C 05D4 202C;2|"
    "202D 0661 202B 0662 202C 2068 0663 2069 202B 0664 202C 0665 202C;0|"
    # BD16: brackets paired across a level run that ends between them.
    "202A 05D0 0028 05D1 202C 202D 0029;2|"
    "202A 05D0 0028 05D1 202C 202D 0029 202C;2|"
    "202B 0061 0028 0062 202C 202E 0029;2|"
    "202B 0061 0028 0062 202C 202E 0029 202C;2|"
    "202A 202E 0061 202C 0028 05D0 202C 202D 0029 202C;2|"
    "202B 202D 05D0 202C 0028 0061 202C 202E 0029 202C;2|"
    "202A 202E 0061 202C 0028 005B 05D0 202C 202D 005D 0029 202C;2|"
    "202B 202D 05D0 202C 0028 005B 0061 202C 202E 005D 0029 202C;2|"
    "202D 0028 202C 202A 05D0 0029 05D1;2|"
    "202D 0028 202C 202A 05D0 0029 05D1 202C;2|"
    "202E 0028 202C 202B 0061 0029 0062;2|"
    "202E 0028 202C 202B 0061 0029 0062 202C;2|"
    "202D 202E 0061 202C 0028 202C 202A 05D0 0029 05D1;2|"
    "202E 202D 05D0 202C 0028 202C 202B 0061 0029 0062;2|"
    "202D 202E 0061 202C 0028 005B 202C 202A 05D0 005D 0029 05D1;2|"
    "202E 202D 05D0 202C 0028 005B 202C 202B 0061 005D 0029 0062;2|"
    # N0: a mark after the bracket takes the bracket's new type.
    "0061 0028 0062 0029 0331;1|"
    "0061 0028 0332 0062 0029 0333;1|"
    "05D0 0028 05D1 0029 0331;0|"
    "05D0 0028 0332 05D1 0029 0333;0|"
    "0661 0028 0662 0029 0331;0|"
    "0661 0028 0332 0662 0029 0333;0|"
    "0041 200F 005B 05D0 005D 200D 20D6;0|"
    "0041 200F 005B 200D 20D6 05D0 005D 200D 20D6;0|"
    "0041 200F 005B 200D 200B 20D6 05D0 005D 200B 200D 20D6;0|"
    # All left to right: ICU gives level 0 throughout, and the order is the same.
    "0061 202A 0062 202C 0020 0031 0020 0032;0|"
    # BD16: no more than 63 open brackets are remembered.
    f"0061 {'0028 ' * 64}0062{' 0029' * 64};1"
)
ALLOWED = frozenset(_LISTED.split("|"))


def test_unicode_bidi_character_test(unicode_lines: Callable[[str], list[str]]) -> None:
    lines = unicode_lines("BidiCharacterTest.txt")
    assert len(lines) > 90_000
    differing = set()
    for line in lines:
        codes, direction, base, wanted, order = line.split(";")
        text = "".join(chr(int(code, 16)) for code in codes.split())
        levels, found_base = find_levels(text, {"0": False, "1": True, "2": None}[direction])
        # "x" are the characters that rule X9 removes.
        kept = [(at, int(level)) for at, level in enumerate(wanted.split()) if level != "x"]
        found_order = [kept[at][0] for at in visual_order([levels[at] for at, _ in kept])]
        if (
            found_base != int(base)
            or any(levels[at] != level for at, level in kept)
            or found_order != [int(at) for at in order.split()]
        ):
            differing.add(f"{codes};{direction}")
    assert differing <= ALLOWED


def test_every_character_that_can_raise_a_level_is_known() -> None:
    raising = {
        getattr(icu.UCharDirection, name)
        for name in (
            "RIGHT_TO_LEFT",
            "RIGHT_TO_LEFT_ARABIC",
            "ARABIC_NUMBER",
            "LEFT_TO_RIGHT_EMBEDDING",
            "LEFT_TO_RIGHT_OVERRIDE",
            "RIGHT_TO_LEFT_EMBEDDING",
            "RIGHT_TO_LEFT_OVERRIDE",
            "LEFT_TO_RIGHT_ISOLATE",
            "RIGHT_TO_LEFT_ISOLATE",
            "FIRST_STRONG_ISOLATE",
        )
    }
    codes = [code for code in range(0x110000) if not 0xD800 <= code < 0xE000]
    unknown = [code for code in codes if icu.Char.charDirection(chr(code)) in raising and not has_rtl(chr(code))]
    assert unknown == []


def test_levels_are_by_code_point() -> None:
    # U+1F600 is two UTF-16 units, as ICU counts.
    assert find_levels("a\U0001f600אב\U0001f600b", None) == (bytes([0, 0, 1, 1, 0, 0]), 0)
    assert find_levels("\U0001f600א", None) == (bytes([1, 1]), 1)
    assert find_levels("1 א", False)[1] == 0


def test_order_of_runs() -> None:
    # UAX #9 §3.4, rule L2: levels of runs, and the order they are drawn in.
    assert visual_order([]) == []
    assert visual_order([0, 0, 2]) == [0, 1, 2]
    assert visual_order([1, 1, 1]) == [2, 1, 0]
    assert visual_order([0, 1, 2, 1, 0]) == [0, 3, 2, 1, 4]
    assert visual_order([1, 2, 2, 1]) == [3, 1, 2, 0]
    assert visual_order([0, 1, 2, 3, 4, 2, 1]) == [0, 6, 2, 4, 3, 5, 1]
