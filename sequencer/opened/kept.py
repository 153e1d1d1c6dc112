"""What is worth keeping between two requests, the least recently used given up first."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Thing = TypeVar("Thing")


class Kept(Generic[Thing]):
    """Things by key, up to ``most`` of weight; ``weigh`` says what one weighs (bytes, or 1)."""

    def __init__(self, most: int, weigh: Callable[[Thing], int] = lambda thing: 1) -> None:
        self._most, self._weigh = most, weigh
        self._things: OrderedDict[Hashable, Thing] = OrderedDict()
        self._weight = 0
        self._lock = threading.Lock()

    def get(self, key: Hashable, make: Callable[[], Thing]) -> Thing:
        """The thing of this key, made where it is not kept."""
        with self._lock:
            if key in self._things:
                self._things.move_to_end(key)
                return self._things[key]
        thing = make()
        with self._lock:
            if key not in self._things:
                self._things[key] = thing
                self._weight += self._weigh(thing)
            while self._weight > self._most and len(self._things) > 1:
                _, gone = self._things.popitem(last=False)
                self._weight -= self._weigh(gone)
        return thing
