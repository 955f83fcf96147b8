"""FF1, the format-preserving cipher of NIST SP 800-38G: a keyed permutation of the texts of one length.

Lives here: the ten rounds, on numerals, on whole numbers and on arrays of them.  Not here: domains that are no power
of a radix (`shuffle`), where keys come from (`keys`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from cryptography.hazmat.primitives.ciphers import Cipher, algorithms, modes
from numpy.typing import NDArray

from vdp.errors import OurBug

ROUNDS = 10
BLOCK = 16
#: The smallest domain: SP 800-38G Rev. 1 raises the first edition's hundred to a million, against exhaustive search.
LEAST_DOMAIN = 1_000_000
LARGEST_RADIX = 1 << 16


class FF1:
    """The permutation of [0, radix ** length) under a key of 16, 24 or 32 bytes and a tweak.

    A text of `length` numerals, most significant first, and the number that it writes in `radix` are the same thing
    here.  Raises OurBug for parameters that the standard does not allow: callers check what came from outside.
    """

    __slots__ = ("_aes", "_bytes", "_halves", "_state", "_tail", "_taken", "length", "radix", "size")

    def __init__(self, key: bytes, radix: int, length: int, tweak: bytes = b"") -> None:
        if not 2 <= radix <= LARGEST_RADIX or length < 2 or radix**length < LEAST_DOMAIN:
            raise OurBug(f"FF1 takes no radix {radix} with {length} numerals")
        if len(key) not in {16, 24, 32}:
            raise OurBug(f"an AES key has 16, 24 or 32 bytes, not {len(key)}")
        self.radix, self.length = radix, length
        #: How many numbers the permutation is over.
        self.size: int = radix**length
        left = length // 2
        self._halves: tuple[int, int] = (radix**left, radix ** (length - left))
        # Step 3, exactly: ceil(v · log2(radix)) is the bit length of the largest number of v numerals.
        self._bytes: int = ((self._halves[1] - 1).bit_length() + 7) // 8
        self._taken = 4 * -(-self._bytes // 4) + 4
        mode = modes.ECB()  # noqa: S305  the cipher is built from the bare block cipher (steps 6.ii and 6.iii)
        self._aes = Cipher(algorithms.AES(key), mode).encryptor()
        opening = (
            bytes((1, 2, 1)) + radix.to_bytes(3, "big") + bytes((ROUNDS, left % 256))
            + length.to_bytes(4, "big") + len(tweak).to_bytes(4, "big")
            + tweak + bytes(-(len(tweak) + self._bytes + 1) % BLOCK)
        )  # fmt: skip
        # Everything before the block with the round's number is the same in every round: chained once.
        whole = len(opening) // BLOCK * BLOCK
        self._state = self._chain(0, opening[:whole])
        self._tail = opening[whole:]

    def encrypt(self, numerals: Sequence[int]) -> tuple[int, ...]:
        """`length` numerals, each in [0, radix) → as many."""
        return self._numerals(self.encrypt_number(self._number(numerals)))

    def decrypt(self, numerals: Sequence[int]) -> tuple[int, ...]:
        """The inverse of `encrypt`."""
        return self._numerals(self.decrypt_number(self._number(numerals)))

    def encrypt_number(self, number: int) -> int:
        """A number in [0, size) → another."""
        left, right = divmod(number, self._halves[1])
        for turn in range(ROUNDS):
            left, right = right, (left + self._pad(turn, right)) % self._halves[turn % 2]
        return left * self._halves[1] + right

    def decrypt_number(self, number: int) -> int:
        """The inverse of `encrypt_number`."""
        left, right = divmod(number, self._halves[1])
        for turn in reversed(range(ROUNDS)):
            left, right = (right - self._pad(turn, left)) % self._halves[turn % 2], left
        return left * self._halves[1] + right

    @property
    def takes_arrays(self) -> bool:
        """Whether `encrypt_array` holds: each half of a number fits in 32 bits, so sums stay within 64."""
        return self._bytes <= 4

    def encrypt_array(self, numbers: NDArray[np.uint64]) -> NDArray[np.uint64]:
        """`encrypt_number` of each, some twenty times as fast."""
        if not self.takes_arrays:
            raise OurBug(f"FF1 on {self.size} numbers does not fit 64-bit arithmetic")
        halves = tuple(np.uint64(half) for half in self._halves)
        left, right = numbers // halves[1], numbers % halves[1]
        blocks = np.empty((len(numbers), BLOCK), np.uint8)
        for turn in range(ROUNDS):
            fixed = self._tail + bytes((turn,)) + bytes(self._bytes)
            blocks[:] = np.frombuffer((self._state ^ int.from_bytes(fixed, "big")).to_bytes(BLOCK, "big"), np.uint8)
            blocks[:, BLOCK - self._bytes :] ^= right.astype(">u4").view(np.uint8).reshape(-1, 4)[:, 4 - self._bytes :]
            made = np.frombuffer(self._aes.update(blocks.tobytes()), np.uint8).reshape(-1, BLOCK)
            pad = np.ascontiguousarray(made[:, :8]).view(">u8")[:, 0].astype(np.uint64)
            half = halves[turn % 2]
            left, right = right, (left + pad % half) % half
        return left * halves[1] + right

    def _pad(self, turn: int, half: int) -> int:
        """Steps 6.i to 6.iv: what a round adds to the other half."""
        mixed = self._chain(self._state, self._tail + bytes((turn,)) + half.to_bytes(self._bytes, "big"))
        text = mixed.to_bytes(BLOCK, "big")
        for count in range(1, -(-self._taken // BLOCK)):
            text += self._aes.update((mixed ^ count).to_bytes(BLOCK, "big"))
        return int.from_bytes(text[: self._taken], "big")

    def _chain(self, state: int, text: bytes) -> int:
        """The standard's PRF: CBC-MAC from `state` on."""
        for at in range(0, len(text), BLOCK):
            block = state ^ int.from_bytes(text[at : at + BLOCK], "big")
            state = int.from_bytes(self._aes.update(block.to_bytes(BLOCK, "big")), "big")
        return state

    def _number(self, numerals: Sequence[int]) -> int:
        if len(numerals) != self.length or not all(0 <= n < self.radix for n in numerals):
            raise OurBug(f"FF1 takes {self.length} numerals below {self.radix}")
        number = 0
        for numeral in numerals:
            number = number * self.radix + numeral
        return number

    def _numerals(self, number: int) -> tuple[int, ...]:
        numerals = []
        for _ in range(self.length):
            number, numeral = divmod(number, self.radix)
            numerals.append(numeral)
        return tuple(reversed(numerals))
