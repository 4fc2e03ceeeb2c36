"""Cold open-circuit voltage and short-circuit current."""

from __future__ import annotations

from collections.abc import Iterator

from tests.validation.ledger import Check, near
from wattpair_service.engineering.inverter.electrical_checks import coefficient_voltage, table_voltage
from wattpair_service.rules import electrical_rules

LESSON = "electrician-training lesson on the 2023 NEC, worked example"
TABLE = "NEC table 690.7(A); band edges partly from memory"
TABLE_FACTORS = {
    (24, 20): 1.02, (19, 15): 1.04, (14, 10): 1.06, (9, 5): 1.08, (4, 0): 1.10, (-1, -5): 1.12, (-6, -10): 1.14,
    (-11, -15): 1.16, (-16, -20): 1.18, (-21, -25): 1.20, (-26, -30): 1.21, (-31, -35): 1.23, (-36, -40): 1.25,
}  # fmt: skip
"""By the warm and the cold edge of each band [degC]."""


def checks() -> Iterator[Check]:
    """The worked example, then every band of the table at both edges."""
    rules = electrical_rules("united_states")
    factors = rules.cold_voltage_factors
    assert factors is not None, "the region has a table"
    by_coefficient = coefficient_voltage(49.5, -0.27, -10.0)
    yield near("cold voltage by coefficient: 49.5 V, -0.27 %/K, -10 degC [V]", 54.18, by_coefficient, 0.005, "READ-2", LESSON)
    by_table = table_voltage(49.5, factors, -10.0)
    yield near("cold voltage by table: 49.5 V, -10 degC [V]", 56.43, by_table, 0.005, "READ-2", LESSON)
    current_a = 11.2 * rules.short_circuit_factor
    yield near("short-circuit current: 11.2 A with the code's factor [A]", 14.0, current_a, 1e-9, "READ-2", LESSON)
    for edges, factor in TABLE_FACTORS.items():
        for edge in edges:
            got = table_voltage(1.0, factors, float(edge))
            yield near(f"cold-voltage factor at {edge} degC", factor, got, 1e-12, "READ-2", TABLE)
