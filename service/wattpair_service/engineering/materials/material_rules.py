"""What a region's rules ask for on the order: labels, surge protection, a generation meter, bonding of the array."""

from __future__ import annotations

from dataclasses import dataclass

from wattpair_service.engineering.sentences import Given, Words


@dataclass(frozen=True, slots=True)
class Demand:
    """Whether a part is asked for, and by which rule or whom."""

    asked: bool
    source: Words


@dataclass(frozen=True, slots=True)
class Label:
    """A label: its text in the language of the place, how many, and where they go.

    {current} and {voltage} in the text stand for the system's rated values.
    """

    text: str
    count: int
    where: Given
    source: Given

    def text_for(self, current_a: float, voltage_v: float) -> str:
        """The text to print."""
        return self.text.replace("{current}", f"{current_a:.4g} A").replace("{voltage}", f"{voltage_v:g} V")


@dataclass(frozen=True, slots=True)
class MaterialRules:
    """A region's rules for the order. `lines_per_phase` is 2 where what counts as one phase has two line conductors."""

    labels: tuple[Label, ...]
    surge_protection: Demand
    generation_meter: Demand
    bonding_size: str
    bonding_source: Words
    lines_per_phase: int = 1

    @property
    def is_split_phase(self) -> bool:
        """Whether units stand between two lines."""
        return self.lines_per_phase > 1
