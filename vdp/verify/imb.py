"""Bars of an Intelligent Mail barcode → its digits, by USPS-B-3200's own tables, without the composer's encoder.

Not here: bars out of pixels (`fourstate`).  A symbol with any single bar wrong is refused.
"""

from __future__ import annotations

#: USPS-B-3200 Appendix D: which bit of which character (A–J) makes each bar reach down, and up.
_DOWN = (
    "H2 B10 J12 F5 I9 A1 C5 E4 G3 D9 F11 I5 J10 H1 D6 A3 G4 B1 H10 E0 G2 I11 J8 C6 F1 B12 H3 F8 E6 D4 I4 H11 G0 A6 C1 "
    "F9 E11 J5 D3 A7 B3 G10 I7 C11 A8 E2 F10 J3 G5 H8 F0 C3 G12 D11 I8 F4 B5 J1 I3 H0 E7 A12 C9 G8 D10"
)
_UP = (
    "E3 A0 C8 G11 D1 F12 B8 J11 I10 H6 B4 C12 A2 G7 E9 I6 C7 J9 F2 D8 A4 B0 D12 H7 E10 G9 I0 J7 C10 A5 F7 B9 J6 E8 D2 "
    "I12 G1 H4 B2 C0 E1 D5 J4 F6 H12 I1 D0 A9 C4 B7 E5 A10 J2 B6 H9 A11 C2 E12 G6 D7 H5 B11 J0 F3 I2"
)


def _places(written: str) -> list[tuple[int, int]]:
    return [("ABCDEFGHIJ".index(word[0]), int(word[1:])) for word in written.split()]


DOWN, UP = _places(_DOWN), _places(_UP)


def n_of_13(ones: int, count: int) -> list[int]:
    """Appendix E: 13-bit numbers with that many ones: pairs of mirror images in front, palindromes at the back."""
    table = [0] * count
    front, back = 0, count - 1
    for number in range(1 << 13):
        mirrored = int(f"{number:013b}"[::-1], 2)
        if number.bit_count() != ones or mirrored < number:
            continue
        if mirrored == number:
            table[back] = number
            back -= 1
        else:
            table[front : front + 2] = number, mirrored
            front += 2
    return table


FIVE, TWO = n_of_13(5, 1287), n_of_13(2, 78)
CHARACTERS = FIVE + TWO
CODEWORD = {character: codeword for codeword, character in enumerate(CHARACTERS)}

ROUTING_OFFSET = {0: 0, 5: 1, 9: 100_001, 11: 1_000_100_001}


def frame_check(value: int) -> int:
    """Step 2: CRC-11 over 102 bits, polynomial F35, started with 7FF."""
    register = 0x7FF
    for place in range(101, -1, -1):
        feedback = register >> 10 ^ value >> place & 1
        register = register << 1 & 0x7FF ^ (0x735 if feedback else 0)
    return register


def read_bars(bars: str) -> tuple[str, str]:
    """Tracking and routing code.  Raises ValueError for bars that are no symbol."""
    if len(bars) != 65 or set(bars) - set("FADT"):
        raise ValueError("not 65 bars")
    characters = [0] * 10
    for bar, (d, i), (u, j) in zip(bars, DOWN, UP, strict=True):
        characters[d] |= (bar in "DF") << i
        characters[u] |= (bar in "AF") << j
    check = 0
    words = []
    for place, character in enumerate(characters):
        if character.bit_count() not in (2, 5, 8, 11):
            raise ValueError(f"character {'ABCDEFGHIJ'[place]} has {character.bit_count()} bits set")
        if character.bit_count() > 6:
            check |= 1 << place
            character ^= 0x1FFF  # noqa: PLW2901 - the character as it was before the check inverted it
        words.append(CODEWORD[character])
    if words[9] % 2:
        raise ValueError("codeword J is odd")
    if words[0] >= 659:
        check |= 1 << 10
        words[0] -= 659
    value = words[0]
    for word in words[1:9]:
        value = value * 1365 + word
    value = value * 636 + words[9] // 2
    if words[0] > 658 or words[9] > 1270 or frame_check(value) != check:
        raise ValueError("the frame check differs")
    return digits_of(value)


def digits_of(value: int) -> tuple[str, str]:
    """Step 1 undone."""
    value, serial = divmod(value, 10**18)
    value, second = divmod(value, 5)
    value, first = divmod(value, 10)
    length = next((n for n in (11, 9, 5, 0) if value >= ROUTING_OFFSET[n]), 0)
    routing = f"{value - ROUTING_OFFSET[length]:0{length}d}" if length else ""
    if len(routing) != length:
        raise ValueError("the routing code is too large")
    return f"{first}{second}{serial:018d}", routing
