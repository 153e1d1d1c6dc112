"""What is worth keeping for when it is asked for again, the least recently used given up first.

A thing is made once, however many ask for it at the same time: the others wait for the first.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Thing = TypeVar("Thing")


class Kept(Generic[Thing]):
    """Things by key, up to ``most`` of weight; ``weigh`` says what one weighs (bytes, or 1). The
    last one stays until the next comes, however heavy it is.
    """

    def __init__(self, most: int, weigh: Callable[[Thing], int] = lambda thing: 1) -> None:
        self._most, self._weigh = most, weigh
        self._things: OrderedDict[Hashable, Thing] = OrderedDict()
        self._weight = 0
        self._lock = threading.Lock()
        self._making: dict[Hashable, threading.RLock] = {}

    def get(self, key: Hashable, make: Callable[[], Thing]) -> Thing:
        """The thing of this key, made where it is not kept."""
        with self._lock:
            if key in self._things:
                return self._touched(key)
            making = self._making.setdefault(key, threading.RLock())
        try:
            with making:
                with self._lock:
                    if key in self._things:
                        return self._touched(key)
                return self._put(key, make())
        finally:
            with self._lock:
                self._making.pop(key, None)

    @property
    def weight(self) -> int:
        """What all that is kept weighs together."""
        return self._weight

    def _touched(self, key: Hashable) -> Thing:
        self._things.move_to_end(key)
        return self._things[key]

    def _put(self, key: Hashable, thing: Thing) -> Thing:
        with self._lock:
            self._things[key] = thing
            self._weight += self._weigh(thing)
            while self._weight > self._most and len(self._things) > 1:
                _, gone = self._things.popitem(last=False)
                self._weight -= self._weigh(gone)
        return thing
