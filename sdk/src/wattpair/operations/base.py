"""What every operation needs.

A new operation is a method whose name, arguments and return type are those of the contract, in a class that `Client` inherits.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from wattpair import codec
from wattpair.transport import Transport

R = TypeVar("R")


class Operations:
    """Base class of groups of operations."""

    _transport: Transport

    def _calculate(self, method: Callable[..., R], path: str, arguments: Mapping[str, object]) -> R:
        """Send a method's arguments by their type hints, and read the answer by its return type."""
        hints = codec.hints_of(method)
        result: R = self._transport.post(path, codec.encode_fields(arguments, hints), hints["return"])
        return result
