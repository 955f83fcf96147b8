"""A keyed permutation of [0, size) for any size: numbers that cannot be guessed and cannot meet.

Lives here: the domain chosen for FF1, and cycle walking back into the range.  Not here: the cipher (`ff1`), keys
(`keys`), what a number looks like (`series`).
"""

from __future__ import annotations

import numpy as np

from vdp.errors import OurBug
from vdp.numbering.ff1 import FF1, LARGEST_RADIX, LEAST_DOMAIN

#: The largest number of numbers that a series can have (thirty decimal digits).
LARGEST_SIZE = 10**30


class Shuffle:
    """A bijection of [0, size) onto itself, fixed by `key` (16, 24 or 32 bytes).

    FF1 permutes a domain that is at least `size` (and at least a million: smaller ones are walked through, at
    million / size steps a number); whatever falls outside [0, size) is permuted again until it falls inside.  Walking
    along a cycle keeps the map a bijection (Black and Rogaway, 2002).

    The domain is radix ** length with the least length of 2 or more that lets the radix stay within 2 ** 16, and the
    least such radix: at most some per mille larger than `size`, so that walking is rare.
    """

    __slots__ = ("_cipher", "_key", "size")

    def __init__(self, key: bytes, size: int) -> None:
        if not 1 <= size <= LARGEST_SIZE:
            raise OurBug(f"there is no shuffle of {size} numbers")
        self.size, self._key = size, key
        self._cipher = FF1(key, *_domain(max(size, LEAST_DOMAIN)))

    def __reduce__(self) -> tuple[type[Shuffle], tuple[bytes, int]]:
        """For other processes: made anew there, since a cipher's state cannot be sent."""
        return Shuffle, (self._key, self.size)

    def at(self, index: int) -> int:
        """Where `index` goes."""
        self._within(index)
        number = self._cipher.encrypt_number(index)
        while number >= self.size:
            number = self._cipher.encrypt_number(number)
        return number

    def index(self, number: int) -> int:
        """The inverse of `at`."""
        self._within(number)
        index = self._cipher.decrypt_number(number)
        while index >= self.size:
            index = self._cipher.decrypt_number(index)
        return index

    def many(self, first: int, count: int) -> list[int]:
        """`at` of `count` indexes from `first` on, all at once."""
        if count < 1:
            return []
        self._within(first)
        self._within(first + count - 1)
        if not self._cipher.takes_arrays:
            return [self.at(index) for index in range(first, first + count)]
        numbers = self._cipher.encrypt_array(np.arange(count, dtype=np.uint64) + np.uint64(first))
        while (outside := np.flatnonzero(numbers >= self.size)).size:
            numbers[outside] = self._cipher.encrypt_array(numbers[outside])
        return [int(number) for number in numbers]

    def _within(self, number: int) -> None:
        if not 0 <= number < self.size:
            raise OurBug(f"{number} is outside the {self.size} numbers shuffled")


def _domain(size: int) -> tuple[int, int]:
    """Radix and length of the smallest FF1 domain that holds `size`."""
    length = 2
    while LARGEST_RADIX**length < size:
        length += 1
    low, high = 2, LARGEST_RADIX
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if middle**length >= size else (middle + 1, high)
    return low, length
