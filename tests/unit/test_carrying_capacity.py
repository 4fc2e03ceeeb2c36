"""Current-carrying capacities and their factors, beside published values.

No standard was opened: the values were read in second-hand copies that agree, as the rules' files say.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, strategies as st

from tests.builders import numbers
from wattpair_service.engineering.circuits.conductors import INSTALLATIONS, CapacityTable, Installation
from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.rules import capacity_tables, conductor_tables
from wattpair_service.words.catalogue import english

TABLES = capacity_tables()
EVERY_TABLE = pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
BS_4D5, BS_4D2A = "BS 7671 Table 4D5", "BS 7671 Table 4D2A"
AS_10, AS_11, AS_13, AS_14 = (f"AS/NZS 3008.1.1:2017 Table {number}" for number in (10, 11, 13, 14))
B_52 = "IEC 60364-5-52:2009 Table B.52."
LARGE_A, SMALL_A = 110.0, 20.0
"""Devices above and up to 100 A, where NEC 110.14(C)(1) reads the terminals' column."""


def reference(table: CapacityTable, method: str) -> Installation:
    """One circuit at the table's reference temperature."""
    return Installation(table, table.methods[method], 20.0 if table.methods[method].in_ground else table.reference_c, 1)


@pytest.mark.parametrize(
    ("table", "method", "size", "loaded", "capacity_a", "clause"),
    [
        ("bs_7671_70", "clipped_direct", "2.5 mm2", 2, 27.0, f"{BS_4D5}, method C"),
        ("bs_7671_70", "above_ceiling", "2.5 mm2", 2, 21.0, f"{BS_4D5}, method 100"),
        ("bs_7671_70", "above_ceiling_thick_insulation", "2.5 mm2", 2, 17.0, f"{BS_4D5}, method 101"),
        ("bs_7671_70", "surrounded_by_insulation", "2.5 mm2", 2, 13.5, f"{BS_4D5}, method 103"),
        ("bs_7671_70", "above_ceiling_thick_insulation", "6 mm2", 2, 27.0, f"{BS_4D5}, method 101"),
        ("bs_7671_70", "above_ceiling_thick_insulation", "16 mm2", 2, 46.0, f"{BS_4D5}, method 101"),
        ("bs_7671_70", "surrounded_by_insulation", "16 mm2", 2, 42.5, f"{BS_4D5}, method 103"),
        ("bs_7671_70", "insulated_wall", "16 mm2", 2, 57.0, f"{BS_4D5}, method A"),
        ("bs_7671_70", "clipped_direct", "10 mm2", 2, 64.0, f"{BS_4D5}, method C"),
        ("bs_7671_70", "free_air", "10 mm2", 3, 60.0, f"{BS_4D2A}, method E"),
        ("bs_7671_70", "conduit_on_wall", "6 mm2", 3, 34.0, f"{BS_4D2A}, method B"),
        ("iec_pvc_70", "insulated_wall", "2.5 mm2", 2, 18.5, f"{B_52}2, method A2"),
        ("iec_pvc_70", "conduit_on_wall", "4 mm2", 2, 30.0, f"{B_52}2, method B2"),
        ("iec_pvc_70", "clipped_direct", "16 mm2", 2, 85.0, f"{B_52}2, method C"),
        ("iec_pvc_70", "clipped_direct", "2.5 mm2", 3, 24.0, f"{B_52}4, method C"),
        ("iec_pvc_70", "in_ground", "95 mm2", 3, 169.0, f"{B_52}4, method D1"),
        ("iec_pvc_70", "free_air", "10 mm2", 2, 70.0, f"{B_52}10, method E"),
        ("iec_pvc_70", "surrounded_by_insulation", "1.5 mm2", 2, 9.7, "IEC 60364-5-52, 523.9: half of method C, 19.5 A"),
        ("iec_xlpe_90", "clipped_direct", "6 mm2", 2, 58.0, f"{B_52}3, method C"),
        ("iec_xlpe_90", "conduit_on_wall", "35 mm2", 3, 128.0, f"{B_52}5, method B2"),
        ("iec_xlpe_90", "free_air", "2.5 mm2", 2, 36.0, f"{B_52}12, method E"),
        ("as_nzs_3008_75", "clipped_direct", "2.5 mm2", 2, 26.0, f"{AS_10}, unenclosed, touching"),
        ("as_nzs_3008_75", "above_ceiling", "2.5 mm2", 2, 20.0, f"{AS_10}, partially surrounded by thermal insulation"),
        ("as_nzs_3008_75", "surrounded_by_insulation", "2.5 mm2", 2, 13.0, f"{AS_10}, completely surrounded"),
        ("as_nzs_3008_75", "conduit_on_wall", "6 mm2", 2, 39.0, f"{AS_10}, enclosed in air"),
        ("as_nzs_3008_75", "clipped_direct", "16 mm2", 3, 68.0, f"{AS_13}, unenclosed, touching"),
        ("as_nzs_3008_75", "conduit_on_wall", "16 mm2", 3, 58.0, f"{AS_13}, enclosed in air"),
        ("as_nzs_3008_90", "clipped_direct", "4 mm2", 2, 42.0, f"{AS_11}, unenclosed, touching"),
        ("as_nzs_3008_90", "surrounded_by_insulation", "4 mm2", 2, 21.0, f"{AS_11}, completely surrounded"),
        ("as_nzs_3008_90", "free_air", "95 mm2", 3, 283.0, f"{AS_14}, unenclosed, spaced"),
        ("nec_310_16", "conduit_on_wall", "14 AWG", 2, 25.0, "NEC Table 310.16, 90 degC"),
        ("nec_310_16", "conduit_on_wall", "6 AWG", 2, 75.0, "NEC Table 310.16, 90 degC"),
        ("nec_310_16", "conduit_on_wall", "4/0 AWG", 3, 260.0, "NEC Table 310.16, 90 degC"),
    ],
)
def test_capacities_are_the_published_ones(
    table: str, method: str, size: str, loaded: int, capacity_a: float, clause: str
) -> None:
    installed = reference(TABLES[table], method)
    assert installed.table_capacity_a(size, loaded) == capacity_a, clause
    assert (installed.ambient_factor, installed.grouping_factor) == (1.0, 1.0)


@pytest.mark.parametrize(
    ("size", "up_to_100_a", "above_100_a"),
    # NEC Table 310.16: the 60 degC column for terminals up to 100 A, the 75 degC column above, 110.14(C)(1).
    [("14 AWG", 15.0, 20.0), ("12 AWG", 20.0, 25.0), ("6 AWG", 55.0, 65.0), ("1 AWG", 110.0, 130.0), ("4/0 AWG", 195.0, 230.0)],
)
def test_terminals_allow_less_than_the_cable(size: str, up_to_100_a: float, above_100_a: float) -> None:
    installed = reference(TABLES["nec_310_16"], "conduit_on_wall")
    assert installed.capacity_a(size, 2, SMALL_A) == installed.capacity_a(size, 2, 100.0) == up_to_100_a
    assert installed.capacity_a(size, 2, LARGE_A) == above_100_a


@pytest.mark.parametrize(
    ("size", "device_a", "allowed"),
    # NEC 240.4(D)(3), (5) and (7).
    [
        ("14 AWG", 15.0, True), ("14 AWG", 20.0, False), ("12 AWG", 20.0, True), ("12 AWG", 25.0, False),
        ("10 AWG", 30.0, True), ("10 AWG", 35.0, False), ("8 AWG", 125.0, True),
    ],
)  # fmt: skip
def test_small_conductors_stand_behind_small_devices_only(size: str, device_a: float, allowed: bool) -> None:
    for name in ("nec_chapter_9_table_8_solid", "nec_chapter_9_table_8_stranded"):
        assert conductor_tables()[name].conductor(size, "size").allows_device(device_a) is allowed


@pytest.mark.parametrize(
    ("table", "method", "ambient_c", "factor", "clause"),
    [
        ("iec_pvc_70", "free_air", 50.0, 0.71, f"{B_52}14, PVC"),
        ("iec_pvc_70", "free_air", 35.0, 0.94, f"{B_52}14, PVC"),
        ("iec_pvc_70", "free_air", 31.0, 0.94, "between two temperatures that of the higher"),
        ("iec_pvc_70", "free_air", 60.1, 0.0, f"{B_52}14 ends at 60 degC for PVC"),
        ("iec_pvc_70", "free_air", -20.0, 1.22, "colder than the table: its first factor"),
        ("iec_xlpe_90", "free_air", 60.0, 0.71, f"{B_52}14, XLPE"),
        ("iec_xlpe_90", "free_air", 80.0, 0.41, f"{B_52}14, XLPE"),
        ("iec_pvc_70", "in_ground", 25.0, 0.95, f"{B_52}15, PVC"),
        ("iec_xlpe_90", "in_ground", 30.0, 0.93, f"{B_52}15, XLPE"),
        ("bs_7671_70", "clipped_direct", 25.0, 1.03, "BS 7671 Table 4B1"),
        ("bs_7671_70", "clipped_direct", 40.0, 0.87, "BS 7671 Table 4B1"),
        ("nec_310_16", "conduit_on_wall", 50.0, 0.82, "NEC Table 310.15(B)(1), 90 degC"),
        ("nec_310_16", "conduit_on_wall", 60.0, 0.71, "NEC Table 310.15(B)(1), 90 degC"),
        ("as_nzs_3008_90", "free_air", 50.0, 0.89, "AS/NZS 3008.1.1 Table 27, read for 90 degC at 50 degC"),
    ],
)
def test_factors_for_the_temperature_are_the_published_ones(
    table: str, method: str, ambient_c: float, factor: float, clause: str
) -> None:
    assert Installation(TABLES[table], TABLES[table].methods[method], ambient_c, 1).ambient_factor == factor, clause


@pytest.mark.parametrize(
    ("table", "circuits", "factor", "clause"),
    [
        ("iec_pvc_70", 2, 0.80, f"{B_52}17, item 1"),
        ("iec_pvc_70", 4, 0.65, f"{B_52}17, item 1"),
        ("iec_pvc_70", 9, 0.50, f"{B_52}17, item 1"),
        ("iec_pvc_70", 10, 0.45, "between two counts that of the larger"),
        ("bs_7671_70", 3, 0.70, "BS 7671 Table 4C1, item 1"),
        ("bs_7671_70", 20, 0.38, "BS 7671 Table 4C1, item 1"),
        ("as_nzs_3008_75", 3, 0.70, "AS/NZS 3008.1.1 Table 22"),
        # NEC Table 310.15(C)(1): 4 to 6 conductors 0.80, 7 to 9 0.70, 10 to 20 0.50, 21 to 30 0.45, 31 to 40 0.40, more 0.35.
        ("nec_310_16", 1, 1.00, "2 conductors"),
        ("nec_310_16", 2, 0.80, "4 conductors"),
        ("nec_310_16", 3, 0.80, "6 conductors"),
        ("nec_310_16", 4, 0.70, "8 conductors"),
        ("nec_310_16", 5, 0.50, "10 conductors"),
        ("nec_310_16", 10, 0.50, "20 conductors"),
        ("nec_310_16", 11, 0.45, "22 conductors"),
        ("nec_310_16", 20, 0.40, "40 conductors"),
        ("nec_310_16", 21, 0.35, "42 conductors"),
        ("nec_310_16", 100, 0.35, "200 conductors"),
    ],
)
def test_factors_for_circuits_together_are_the_published_ones(table: str, circuits: int, factor: float, clause: str) -> None:
    method = TABLES[table].methods["clipped_direct"]
    assert Installation(TABLES[table], method, 30.0, circuits).grouping_factor == factor, clause


@pytest.mark.parametrize(
    ("method", "together", "ambient_c", "device_a", "smallest"),
    [
        # 32 A behind 0.87 and two circuits 0.80: the table must have 45.98 A. A published example, with 4D5's 47 A.
        ("clipped_direct", 2, 40.0, 32.0, "6 mm2"),
        # 20 units of 1.6 A behind 40 A: clipped 47 A, method 101 46 A, method 103 42.5 A.
        ("clipped_direct", 1, 30.0, 40.0, "6 mm2"),
        ("above_ceiling_thick_insulation", 1, 30.0, 40.0, "16 mm2"),
        ("surrounded_by_insulation", 1, 30.0, 40.0, "16 mm2"),
    ],
)
def test_worked_examples_of_twin_and_earth(
    method: str, together: int, ambient_c: float, device_a: float, smallest: str
) -> None:
    table = TABLES["bs_7671_70"]
    installed = Installation(table, table.methods[method], ambient_c, together)
    sizes = [
        size for size in table.methods["clipped_direct"].two_loaded_a if installed.capacity_a(size, 2, device_a) >= device_a
    ]
    assert sizes[0] == smallest


@EVERY_TABLE
def test_thicker_conductors_carry_more_and_three_loaded_ones_less(table: CapacityTable) -> None:
    assert set(table.methods) <= set(INSTALLATIONS)
    assert english(table.source).endswith(")"), "it says how the values were obtained"
    for method in table.methods.values():
        assert method.clause
        for capacities in (method.two_loaded_a, method.three_loaded_a):
            assert len(capacities) >= 6
            assert all(thin < thick for thin, thick in pairwise(capacities.values())), method.name
        for size in method.two_loaded_a.keys() & method.three_loaded_a.keys():
            assert method.three_loaded_a[size] <= method.two_loaded_a[size], (method.name, size)


@EVERY_TABLE
def test_a_worse_way_of_installing_never_carries_more(table: CapacityTable) -> None:
    worse_and_worse = [
        "free_air", "clipped_direct", "conduit_on_wall", "insulated_wall", "above_ceiling_thick_insulation",
        "surrounded_by_insulation",
    ]  # fmt: skip
    methods = [table.methods[name] for name in worse_and_worse if name in table.methods]
    for better, worse in pairwise(methods):
        for size in better.two_loaded_a.keys() & worse.two_loaded_a.keys():
            assert worse.two_loaded_a[size] <= better.two_loaded_a[size], (better.name, worse.name, size)
        for size in better.three_loaded_a.keys() & worse.three_loaded_a.keys():
            assert worse.three_loaded_a[size] <= better.three_loaded_a[size], (better.name, worse.name, size)


@EVERY_TABLE
def test_factors_fall_with_temperature_and_with_circuits_together(table: CapacityTable) -> None:
    for pairs in (table.ambient, table.ground, table.grouping):
        assert all(low < high for (low, _), (high, _) in pairwise(pairs))
        assert all(first >= second for (_, first), (_, second) in pairwise(pairs))
    assert table.grouping[0] == (1.0, 1.0)
    assert dict(table.ambient)[table.reference_c] == 1.0
    assert any(method.in_ground for method in table.methods.values()) is bool(table.ground)
    for rows in (limits for _, limits in table.terminal_limits):
        assert all(thin < thick for thin, thick in pairwise(rows.values()))


@pytest.mark.parametrize(("pvc", "xlpe"), [("iec_pvc_70", "iec_xlpe_90"), ("as_nzs_3008_75", "as_nzs_3008_90")])
def test_insulation_for_more_heat_carries_more(pvc: str, xlpe: str) -> None:
    for name, method in TABLES[pvc].methods.items():
        other = TABLES[xlpe].methods[name]
        for here, there in ((method.two_loaded_a, other.two_loaded_a), (method.three_loaded_a, other.three_loaded_a)):
            assert all(capacity <= there[size] for size, capacity in here.items() if size in there), name


@given(st.data(), numbers(-40.0, 80.0), numbers(0.0, 60.0), st.integers(1, 100), st.integers(0, 50), st.sampled_from([2, 3]))
def test_warmer_or_more_crowded_never_carries_more(
    data: st.DataObject, ambient_c: float, warmer_k: float, together: int, more: int, loaded: int
) -> None:
    table = data.draw(st.sampled_from(list(TABLES.values())))
    method = data.draw(st.sampled_from(list(table.methods.values())))
    size = data.draw(st.sampled_from(list(method.three_loaded_a)))
    device_a = data.draw(st.sampled_from([SMALL_A, LARGE_A]))
    here = Installation(table, method, ambient_c, together)
    for other in (
        Installation(table, method, ambient_c + warmer_k, together),
        Installation(table, method, ambient_c, together + more),
    ):
        assert 0.0 <= other.capacity_a(size, loaded, device_a) <= here.capacity_a(size, loaded, device_a)


def test_what_is_not_published_carries_nothing() -> None:
    table = TABLES["bs_7671_70"]
    assert reference(table, "above_ceiling").capacity_a("25 mm2", 2, SMALL_A) == 0.0
    assert reference(table, "above_ceiling").capacity_a("12 AWG", 2, SMALL_A) == 0.0
    with pytest.raises(EngineeringError, match=r"free_air, .*the ways of installing in the table bs_7671_70") as error:
        table.require_method("in_ground", "trunk_installation")
    assert error.value.fields == ("trunk_installation",)


@pytest.mark.parametrize(
    ("table", "size", "resistance", "clause"),
    [
        ("iec_60228_class_2", "16 mm2", 1.15, "IEC 60228 class 2"),
        ("iec_60228_class_2", "25 mm2", 0.727, "IEC 60228 class 2"),
        ("iec_60228_class_2", "50 mm2", 0.387, "IEC 60228 class 2"),
        ("nec_chapter_9_table_8_stranded", "6 AWG", 0.491 / 0.3048, "NEC chapter 9 table 8"),
        ("nec_chapter_9_table_8_stranded", "2/0 AWG", 0.0967 / 0.3048, "NEC chapter 9 table 8"),
        ("nec_chapter_9_table_8_stranded", "4/0 AWG", 0.0608 / 0.3048, "NEC chapter 9 table 8"),
    ],
)
def test_resistances_are_the_published_ones(table: str, size: str, resistance: float, clause: str) -> None:
    conductor = conductor_tables()[table].conductor(size, "size")
    assert conductor.resistance_ohm_km == pytest.approx(resistance), clause
