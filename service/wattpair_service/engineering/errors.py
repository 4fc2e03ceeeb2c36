"""Errors of the engineering core: plain sentences with the fields that they concern."""

from __future__ import annotations

from typing import Self


class EngineeringError(ValueError):
    """An input that is well formed but that no model can use.

    Parameters
    ----------
    message : str
        A plain sentence that says what is wrong and what is allowed.
    fields : tuple of str
        The fields that it concerns, named as in the dataclass they stand in.
    """

    def __init__(self, message: str, fields: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.fields = fields

    def within(self, place: str) -> Self:
        """The same error with its fields below `place`, such as `module`."""
        return type(self)(str(self), tuple(f"{place}/{field}" for field in self.fields))


class DatasheetError(EngineeringError):
    """Datasheet figures that contradict each other or physics."""


class WeatherError(EngineeringError):
    """A weather series that cannot be what it claims."""
