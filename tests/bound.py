"""A process that rights bind, root or not."""

from __future__ import annotations

import ctypes
import os

DAC_OVERRIDE, DAC_READ_SEARCH, DROP = 1, 2, 24
"""Linux: the powers by which root passes over permissions, and PR_CAPBSET_DROP."""


def bind() -> None:
    """Take from root the power to pass over permissions; for any other user nothing is to be done."""
    if os.geteuid() != 0:
        return
    libc = ctypes.CDLL(None, use_errno=True)

    class Head(ctypes.Structure):
        _fields_ = [("version", ctypes.c_uint32), ("pid", ctypes.c_int)]

    class Sets(ctypes.Structure):
        _fields_ = [(name, ctypes.c_uint32) for name in ("effective", "permitted", "inheritable")]

    head, sets = Head(0x20080522, 0), (Sets * 2)()
    assert libc.capget(ctypes.byref(head), ctypes.byref(sets)) == 0
    for power in (DAC_OVERRIDE, DAC_READ_SEARCH):
        sets[0].effective &= ~(1 << power)
        sets[0].permitted &= ~(1 << power)
    assert libc.capset(ctypes.byref(head), ctypes.byref(sets)) == 0
