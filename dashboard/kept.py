"""Results that are kept, each worked out once though several ask for it at the same time."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import TypeVar, cast

Result = TypeVar("Result")


class _Slot:
    """A result that one caller computes while others that want it wait."""

    def __init__(self) -> None:
        self.lock = Lock()
        self.empty = True
        self.result: object = None


class Kept:
    """The results last asked for, by key; the one longest unused goes first.

    Parameters
    ----------
    most : how many are kept.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._slots: OrderedDict[Hashable, _Slot] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable, make: Callable[[], Result]) -> Result:
        """The result of a key, made if it is not there; what fails is tried anew next time."""
        with self._lock:
            slot = self._slots.setdefault(key, _Slot())
            self._slots.move_to_end(key)
            while len(self._slots) > self._most:
                self._slots.popitem(last=False)
        with slot.lock:
            if slot.empty:
                slot.result = make()
                slot.empty = False
            return cast(Result, slot.result)
