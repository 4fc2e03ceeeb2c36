"""Errors of the engineering core: plain sentences with the fields that they concern."""

from __future__ import annotations

from typing import Self

from wattpair_service.engineering.sentences import Sentence


class EngineeringError(ValueError):
    """A well-formed input that no model can use.

    Parameters
    ----------
    message : str or Sentence
        A plain sentence that says what is wrong and what is allowed; a declared one where it holds others.
    fields : tuple of str
        The fields that it concerns, named as in their dataclass.
    """

    def __init__(self, message: str | Sentence, fields: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.fields = fields

    def within(self, parent: str) -> Self:
        """The same error with its fields as paths below `parent`, such as `module/power_w`."""
        return type(self)(self.message, tuple(f"{parent}/{field}" for field in self.fields))


class DatasheetError(EngineeringError):
    """Datasheet figures that contradict each other or physics."""


class WeatherError(EngineeringError):
    """A weather series that is impossible or contradicts its description."""
