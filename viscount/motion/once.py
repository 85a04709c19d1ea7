"""A property that is found when it is first asked for, and kept.

As functools.cached_property is, without the lock that this takes up to Python 3.11: it costs more
than most of what a track is asked for, dozens of times in a frame.
"""

from collections.abc import Callable
from typing import Any, Generic, TypeVar, overload

Found = TypeVar("Found")


class Once(Generic[Found]):
    """Makes a property of a method; its class must have a ``__dict__``."""

    def __init__(self, find: Callable[[Any], Found]) -> None:
        self._find = find
        self._name = find.__name__
        self.__doc__ = find.__doc__

    @overload
    def __get__(self, instance: None, owner: type) -> "Once[Found]": ...
    @overload
    def __get__(self, instance: object, owner: type) -> Found: ...
    def __get__(self, instance: object | None, owner: type) -> "Once[Found] | Found":
        if instance is None:
            return self
        # No data descriptor: from now on the instance's own attribute stands before it.
        found = instance.__dict__[self._name] = self._find(instance)
        return found
