"""File permissions that hold for the superuser too, who else may write everywhere."""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterator
from contextlib import contextmanager

VERSION = 0x20080522  # _LINUX_CAPABILITY_VERSION_3, capget(2)
DAC_OVERRIDE = 1 << 1  # CAP_DAC_OVERRIDE, capabilities(7): may write what only others may


class _Header(ctypes.Structure):
    _fields_ = (("version", ctypes.c_uint32), ("pid", ctypes.c_int))


class _Sets(ctypes.Structure):
    _fields_ = (("effective", ctypes.c_uint32), ("permitted", ctypes.c_uint32), ("inheritable", ctypes.c_uint32))


@contextmanager
def permissions_hold() -> Iterator[None]:
    """The superuser stays who it is, so that all it could read it still reads, but writes only where its files say so.

    Another account would not do: fonts and programs may lie in folders that only their owner enters.
    """
    if os.geteuid():
        yield
        return
    system = ctypes.CDLL(None, use_errno=True)
    header, sets = _Header(VERSION, 0), (_Sets * 2)()

    def call(name: str) -> None:
        if getattr(system, name)(ctypes.byref(header), sets):
            raise OSError(ctypes.get_errno(), name)

    call("capget")
    had = sets[0].effective
    sets[0].effective = had & ~DAC_OVERRIDE
    call("capset")
    try:
        yield
    finally:
        sets[0].effective = had
        call("capset")
