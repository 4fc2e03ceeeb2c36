"""The devices of the AC path as one orders them: rating, poles, curve, breaking capacity, residual current, direction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Sentence, Words, fixed, sentence, several

DeviceRole = Literal["branch_breaker", "pv_main_breaker", "residual_current_device", "isolator"]

ORDERED = sentence("device.ordered", "parts")
RATING, POLES, CURVE, BREAKING_CAPACITY, RESIDUAL_CURRENT, RESIDUAL_TYPE = (
    sentence(f"device.{each}", "value")
    for each in ("rating", "poles", "curve", "breaking_capacity", "residual_current", "residual_type")
)
ON_REQUEST, BIDIRECTIONAL = fixed("device.on_request"), fixed("device.bidirectional")
FOR_EACH_CIRCUIT, SYSTEM_CABLE, AT_THE_SUPPLY = (
    fixed(f"device.{each}") for each in ("for_each_circuit", "system_cable", "at_the_supply")
)
ALL_CIRCUITS = sentence("device.all_circuits", "reasons")


@dataclass(frozen=True, slots=True)
class DeviceRules:
    """What a region's devices are made as. Ratings in A, rising; poles by the number of phases."""

    ratings_a: tuple[float, ...]
    isolator_ratings_a: tuple[float, ...]
    poles_of_one_phase: int
    poles_of_three_phases: int
    curve: str | None
    breaking_capacity_ka: float
    direction: Words
    source: Words

    def poles(self, phase_count: int) -> int:
        """Poles of a device on so many phases."""
        return self.poles_of_one_phase if phase_count == 1 else self.poles_of_three_phases

    def rating_a(self, current_a: float) -> float | None:
        """The smallest rating that is made and carries a current [A]; None where none does."""
        return _at_least(self.ratings_a, current_a)

    def isolator_rating_a(self, current_a: float) -> float | None:
        """The smallest isolator that is made for a current [A]; None where none is."""
        return _at_least(self.isolator_ratings_a, current_a)


@dataclass(frozen=True, slots=True)
class ResidualCurrentRules:
    """A region's rule for residual-current devices. Types are None where the region's code asks for none at all."""

    type_without_declaration: str | None
    type_if_declared: str | None
    source: Words


@dataclass(frozen=True, slots=True)
class ResidualCurrentNeed:
    """Why a residual-current device is needed: `reasons` in words, empty where none is."""

    reasons: tuple[Words, ...]
    is_declared_free_of_dc: bool


@dataclass(frozen=True, slots=True)
class Device:
    """One kind of device to order. Ratings in A; None where a property is not one of this kind or no rating is made."""

    role: DeviceRole
    quantity: int
    rating_a: float | None
    poles: int
    curve: str | None
    breaking_capacity_ka: float | None
    residual_current_ma: float | None
    residual_current_type: str | None
    is_bidirectional: bool
    protects: Words
    source: Words

    def in_words(self) -> Sentence:
        """What to order, in words."""
        figures = (
            (RATING, self.rating_a),
            (POLES, self.poles),
            (CURVE, self.curve),
            (BREAKING_CAPACITY, self.breaking_capacity_ka),
            (RESIDUAL_CURRENT, self.residual_current_ma),
            (RESIDUAL_TYPE, self.residual_current_type),
        )
        parts = [form(value=value) for form, value in figures if value]
        return ORDERED(
            parts=(*(() if self.rating_a else (ON_REQUEST,)), *parts, *((BIDIRECTIONAL,) if self.is_bidirectional else ()))
        )

    def specification(self) -> str:
        """The same as a price book names it."""
        parts = [
            "rating on request" if self.rating_a is None else f"{self.rating_a:g} A",
            f"{self.poles} poles",
            f"curve {self.curve}" if self.curve else "",
            f"{self.breaking_capacity_ka:g} kA" if self.breaking_capacity_ka else "",
            f"{self.residual_current_ma:g} mA" if self.residual_current_ma else "",
            f"type {self.residual_current_type}" if self.residual_current_type else "",
            "bidirectional" if self.is_bidirectional else "",
        ]
        return ", ".join(filter(None, parts))


RESIDUAL_RATINGS_A = (25.0, 40.0, 63.0, 80.0, 100.0, 125.0)
"""Ratings of residual-current devices, IEC 61008-1 (from memory)."""
SAFE_TYPE = "B"
"""Type where a region's rules name none: it takes every kind of residual current."""
ADDITIONAL_PROTECTION_MA = 30.0
"""Residual current of additional protection: IEC 60364-4-41, 415.1 (from memory)."""


def devices_of(
    rules: DeviceRules,
    residual: ResidualCurrentRules,
    *,
    circuits: int,
    branch_rating_a: float,
    trunk_phase_count: int,
    phase_count: int,
    system_current_a: float,
    need: ResidualCurrentNeed,
) -> tuple[Device, ...]:
    """The devices from the circuits to the board.

    Parameters
    ----------
    rules, residual : DeviceRules, ResidualCurrentRules
        The region's.
    circuits : int
        Branch circuits.
    branch_rating_a : float
        Rating of each circuit's breaker [A].
    trunk_phase_count, phase_count : int
        Phases of a trunk and of the supply.
    system_current_a : float
        Rated current of the fullest phase with the code's factor [A].
    need : ResidualCurrentNeed
        Whether a residual-current device is asked for.

    Returns
    -------
    tuple of Device
        Branch breakers, the system's main breaker where there are several circuits, a residual-current device where one is
        asked for, and the isolator.
    """
    found = [
        Device(
            "branch_breaker", circuits, branch_rating_a, rules.poles(trunk_phase_count), rules.curve,
            rules.breaking_capacity_ka, None, None, True, FOR_EACH_CIRCUIT, several(rules.source, rules.direction),
        )
    ]  # fmt: skip
    # Never below the circuits' own breakers, which trip first.
    main = branch_rating_a if circuits == 1 else rules.rating_a(max(system_current_a, branch_rating_a))
    if circuits > 1:
        found.append(
            Device(
                "pv_main_breaker", 1, main, rules.poles(phase_count), rules.curve, rules.breaking_capacity_ka, None, None, True,
                SYSTEM_CABLE, several(rules.source, rules.direction),
            )
        )  # fmt: skip
    poles_with_neutral = 2 if phase_count == 1 else phase_count + 1
    kind = residual.type_if_declared if need.is_declared_free_of_dc else residual.type_without_declaration
    if need.reasons:
        found.append(
            Device(
                "residual_current_device", 1, _at_least(RESIDUAL_RATINGS_A, max(system_current_a, main or 0.0)),
                poles_with_neutral, None, None, ADDITIONAL_PROTECTION_MA, kind or SAFE_TYPE, True,
                ALL_CIRCUITS(reasons=need.reasons), residual.source,
            )
        )  # fmt: skip
    found.append(
        Device(
            "isolator", 1, rules.isolator_rating_a(max(system_current_a, main or 0.0)),
            poles_with_neutral, None, None, None, None, False,
            AT_THE_SUPPLY, rules.source,
        )
    )  # fmt: skip
    return tuple(found)


def _at_least(ratings_a: tuple[float, ...], current_a: float) -> float | None:
    return next((rating for rating in ratings_a if rating >= current_a * (1.0 - ROUNDING)), None)
