"""From the roof to the meter: published figures of the AC side and of the load on a roof.

No IEC, EN, NEC, BS or AS/NZS standard was opened; the labels say how each figure was obtained.
"""

from __future__ import annotations

from collections.abc import Iterator
from statistics import mean

import numpy as np

from tests.validation.ledger import Check, near, within, yes
from wattpair_service.engineering.circuits.board import Board, feed_max_a
from wattpair_service.engineering.circuits.branch_circuits import BranchCircuit, BranchCircuitRules, FaceUnits, current_fits
from wattpair_service.engineering.circuits.cable_checks import CableRun
from wattpair_service.engineering.circuits.conductors import ConductorTable, Installation
from wattpair_service.engineering.circuits.grid_connection import Connection, ConnectionCheck, SupplyPoint, connection
from wattpair_service.engineering.circuits.voltage_rise import CircuitOnTrunk, CircuitRise, Wiring, voltage_rises
from wattpair_service.engineering.money.replacements import replacements
from wattpair_service.engineering.roof.dead_load import STANDARD_GRAVITY_M_S2, kg_m2
from wattpair_service.engineering.sentences import Cited
from wattpair_service.equipment import demo_scenario
from wattpair_service.rules import branch_circuit_rules, capacity_tables, conductor_tables, connection_rules
from wattpair_service.words.catalogue import english

MAGAZINE = "IAEI Magazine, Sep/Oct 2020"
MAILING_LIST = "installers' mailing list, 9 Oct 2013"
IEC_COPPER_OHM_KM = {
    "iec_60228_class_2": {
        "1.5 mm2": 12.1,
        "2.5 mm2": 7.41,
        "4 mm2": 4.61,
        "6 mm2": 3.08,
        "10 mm2": 1.83,
        "16 mm2": 1.15,
        "25 mm2": 0.727,
        "35 mm2": 0.524,
        "50 mm2": 0.387,
    },
    "iec_60228_class_5": {"1.5 mm2": 13.3, "2.5 mm2": 7.98, "4 mm2": 4.95, "6 mm2": 3.30, "10 mm2": 1.91},
}
NEC_COPPER_OHM_KFT = {
    "nec_chapter_9_table_8_solid": {"14 AWG": 3.07, "12 AWG": 1.93, "10 AWG": 1.21, "8 AWG": 0.764},
    "nec_chapter_9_table_8_stranded": {
        "14 AWG": 3.14,
        "12 AWG": 1.98,
        "10 AWG": 1.24,
        "8 AWG": 0.778,
        "6 AWG": 0.491,
        "2/0 AWG": 0.0967,
        "4/0 AWG": 0.0608,
    },
}
M_PER_KFT = 304.8


def checks() -> Iterator[Check]:
    """Sections 3 and 6 of the published values."""
    yield from _overcurrent_devices()
    yield from _boards()
    yield from _carrying_capacities()
    yield from _great_britain()
    yield from _ireland()
    yield from _germany_and_australia()
    yield from _copper()
    yield from _voltage_rise()
    yield from _dead_load()
    yield from _failures()


def _connection(region: str, *currents_a: float, busbar_a: float | None = None) -> Connection:
    """The grid connection of one unit of a current on each phase; the main device is as large as the busbar."""
    return _at_a_board(region, currents_a, busbar_a, busbar_a)


def _at_a_board(region: str, currents_a: tuple[float, ...], board_a: float | None, main_a: float | None) -> Connection:
    """The grid connection of one unit of a current on each phase, each on a circuit of its own."""
    rules, count = connection_rules(region), len(currents_a)
    circuits = [
        BranchCircuit(
            name=f"circuit {phase}",
            units_by_face=(FaceUnits("roof", 1),),
            unit_count=1,
            phases=(phase,),
            units_by_phase=tuple(int(other == phase) for other in range(1, count + 1)),
            current_a=max(currents_a),
            device_rating_a=20.0,
        )
        for phase in range(1, count + 1)
    ]
    board = Board(board_a, main_a)
    supply = SupplyPoint(rules.voltage_v, board, several_premises=False, is_fed_at_opposite_end=True)
    return connection(rules, circuits, supply, unit_ac_current_a=max(currents_a), phase_count=count)


def _check(found: Connection, name: str) -> ConnectionCheck:
    return next(check for check in found.checks if check.name == name)


def _overcurrent_devices() -> Iterator[Check]:
    rules, devices = branch_circuit_rules("united_states"), connection_rules("united_states").devices
    factor = rules.continuous_current_factor
    continuous, inverter = (devices.rating_a(current * factor) or 0.0 for current in (32.0, 7600.0 / 240.0))
    yield near("breaker for 32 A of continuous output [A]", 40.0, continuous, 0.0, "READ-2", "second-hand copy of the NEC")
    yield near("breaker for a 7.6 kW inverter at 240 V [A]", 40.0, inverter, 0.0, "READ", MAGAZINE)
    largest = conductor_tables()["nec_chapter_9_table_8_solid"].conductor("10 AWG", "size").device_max_a or 0.0
    yield near("largest device on 10 AWG, NEC 240.4(D)(7) [A]", 30.0, largest, 0.0, "READ", MAGAZINE)
    twenty = BranchCircuitRules(20.0, factor, Cited("a 20 A breaker"))
    mixed = 10 * 1.0 + 9 * 0.8
    yield yes("a 20 A breaker carries 16 A continuously", current_fits(16.0, twenty), "READ", MAILING_LIST)
    yield near("ten units of 1.0 A and nine of 0.8 A [A]", 17.2, mixed, 1e-9, "READ", MAILING_LIST)
    yield yes("those 17.2 A fail on it", not current_fits(mixed, twenty), "READ", MAILING_LIST)


def _boards() -> Iterator[Check]:
    source = "second-hand copy of NEC 2020, 705.12(B)(3)(2)"
    rule = connection_rules("united_states").board
    assert rule is not None, "the region has the rule"
    feed_a = feed_max_a(rule, rating_a=200.0, main_device_a=200.0)
    yield near("feed into a 200 A busbar behind a 200 A main device [A]", 40.0, feed_a, 1e-9, "READ-2", source)
    for current, words in ((32.0, "passes"), (32.1, "fails")):
        check = _check(_connection("united_states", current, busbar_a=200.0), "board")
        yield yes(f"{current:g} A on that busbar {words}", check.meets is (words == "passes"), "READ-2", source)
    british, dutch = "a discussion page of the institution that publishes BS 7671, on 551.7.2", "an installers' page"
    for region, current, board, main, words, read in (
        ("great_britain", 16.0, 100.0, 100.0, "fails", british),
        ("great_britain", 16.0, 100.0, 80.0, "passes", british),
        ("netherlands", 16.0, 40.0, 40.0, "fails", dutch),
        ("netherlands", 16.0, 63.0, 40.0, "passes", dutch),
    ):
        check = _check(_at_a_board(region, (current,), board, main), "board")
        name = f"{region}: {main:g} A main device and {current:g} A on a board of {board:g} A {words}"
        yield yes(name, check.meets is (words == "passes"), "READ", read)


CAPACITIES: tuple[tuple[str, str, str, int, float], ...] = (
    ("bs_7671_70", "clipped_direct", "2.5 mm2", 2, 27.0),
    ("bs_7671_70", "above_ceiling", "2.5 mm2", 2, 21.0),
    ("bs_7671_70", "above_ceiling_thick_insulation", "2.5 mm2", 2, 17.0),
    ("bs_7671_70", "surrounded_by_insulation", "2.5 mm2", 2, 13.5),
    ("bs_7671_70", "above_ceiling_thick_insulation", "6 mm2", 2, 27.0),
    ("bs_7671_70", "insulated_wall", "16 mm2", 2, 57.0),
    ("iec_pvc_70", "insulated_wall", "2.5 mm2", 2, 18.5),
    ("iec_pvc_70", "conduit_on_wall", "4 mm2", 2, 30.0),
    ("iec_pvc_70", "clipped_direct", "16 mm2", 2, 85.0),
    ("iec_pvc_70", "clipped_direct", "2.5 mm2", 3, 24.0),
    ("iec_pvc_70", "in_ground", "95 mm2", 3, 169.0),
    ("iec_pvc_70", "free_air", "10 mm2", 2, 70.0),
    ("iec_xlpe_90", "clipped_direct", "6 mm2", 2, 58.0),
    ("iec_xlpe_90", "conduit_on_wall", "35 mm2", 3, 128.0),
    ("as_nzs_3008_75", "clipped_direct", "2.5 mm2", 2, 26.0),
    ("as_nzs_3008_75", "above_ceiling", "2.5 mm2", 2, 20.0),
    ("as_nzs_3008_75", "surrounded_by_insulation", "2.5 mm2", 2, 13.0),
    ("as_nzs_3008_75", "conduit_on_wall", "6 mm2", 2, 39.0),
    ("as_nzs_3008_75", "clipped_direct", "16 mm2", 3, 68.0),
    ("as_nzs_3008_90", "clipped_direct", "4 mm2", 2, 42.0),
    ("nec_310_16", "conduit_on_wall", "14 AWG", 2, 15.0),
    ("nec_310_16", "conduit_on_wall", "6 AWG", 2, 55.0),
    ("nec_310_16", "conduit_on_wall", "1 AWG", 2, 110.0),
)
"""Table, way of installing, size, loaded conductors and capacity [A] at the table's own temperature, one circuit."""
FACTORS: tuple[tuple[str, float, int, float], ...] = (
    ("iec_pvc_70", 50.0, 1, 0.71),
    ("iec_xlpe_90", 60.0, 1, 0.71),
    ("bs_7671_70", 30.0, 4, 0.65),
    ("nec_310_16", 50.0, 1, 0.82),
    ("nec_310_16", 30.0, 3, 0.80),
    ("as_nzs_3008_75", 40.0, 2, 0.80),
)
"""Table, temperature around the cable [degC], circuits together, and the factor of both."""


def _carrying_capacities() -> Iterator[Check]:
    for name, method, size, loaded, expected in CAPACITIES:
        table = capacity_tables()[name]
        ambient_c = 20.0 if table.methods[method].in_ground else table.reference_c
        found = Installation(table, table.methods[method], ambient_c, 1).capacity_a(size, loaded, 20.0)
        words = f"{name}, {method.replace('_', ' ')}, {size}, {loaded} loaded [A]"
        yield near(words, expected, found, 1e-9, "READ-2", table.methods[method].clause)
    for name, ambient_c, together, expected in FACTORS:
        table = capacity_tables()[name]
        installation = Installation(table, table.methods["clipped_direct"], ambient_c, together)
        factor = installation.ambient_factor * installation.grouping_factor
        words = f"{name}, factor at {ambient_c:g} degC with {together} circuits"
        yield near(words, expected, factor, 1e-9, "READ-2", english(table.source)[:60])


def _great_britain() -> Iterator[Check]:
    source, g98 = "a network operator's page on EREC G98", "EREC G98, single premises"
    limit_a = connection_rules("great_britain").routes[0].current_per_phase_max_a or 0.0
    yield near("Great Britain, current per phase [A]", 16.0, limit_a, 0.0, "READ", source)
    for phases, kilowatts in ((1, 3.68), (3, 11.04)):
        power_kw = _connection("great_britain", *(16.0,) * phases).power_total_va / 1000.0
        yield near(f"Great Britain, {phases} phase, 16 A at 230 V [kW]", kilowatts, power_kw, 1e-9, "Derived", source)
    for current, name in ((16.0, g98), (16.1, "EREC G99")):
        found = english(_connection("great_britain", current).route)
        yield yes(f"Great Britain, {current:g} A: {name}", found == name, "READ", source)
    nine = _connection("great_britain", *(9000.0 / 3.0 / 230.0,) * 3)
    current_a = nine.phases[0].current_a
    yield near("Great Britain, 9 kW on three phases [A per phase]", 13.04, current_a, 0.005, "READ", source)
    yield yes("... which is within G98", english(nine.route) == g98, "READ", source)
    in_time = any("within 28 days" in english(filing.when) for filing in _connection("great_britain", 10.0).filings)
    yield yes("Great Britain, told within 28 days", in_time, "READ-2", "second-hand copy of G98")


def _ireland() -> Iterator[Check]:
    source, six_kw = "the network operator's conditions NC6", 6000.0 / 230.0
    yield near("Ireland, 6 kW at 230 V [A]", 26.09, six_kw, 0.005, "Derived", source)
    for currents, words in (
        ((six_kw,), "not within"),
        ((25.0,), "within"),
        ((16.0,) * 3, "within"),
        ((16.1,) * 3, "not within"),
    ):
        holds = english(_connection("ireland", *currents).route).startswith("NC6") is (words == "within")
        yield yes(f"Ireland, {currents[0]:.2f} A on {len(currents)}: {words} NC6", holds, "READ", source)


def _germany_and_australia() -> Iterator[Check]:
    german, australian = "second-hand copy of VDE-AR-N 4100, 5.5", "second-hand copy of AS/NZS 4777.1"
    for power, words in ((4600.0, "passes"), (4601.0, "fails")):
        check = _check(_connection("germany", power / 230.0), "difference between phases")
        yield yes(f"Germany, {power:g} VA on one phase {words}", check.meets is (words == "passes"), "READ-2", german)
    rise = connection_rules("australia").voltage_rise.value or 0.0
    yield near("Australia, voltage rise", 0.02, rise, 0.0, "READ-2", australian)
    yield near("Australia, of 230 V [V]", 4.6, rise * 230.0, 1e-9, "READ-2", australian)
    yield near("Australia, of 400 V line to line [V]", 8.0, rise * 400.0, 1e-9, "READ-2", australian)


def _copper() -> Iterator[Check]:
    iec = "second-hand copies of IEC 60228, three agree"
    for tables, unit, length_m, source in (
        (IEC_COPPER_OHM_KM, "km", 1000.0, iec),
        (NEC_COPPER_OHM_KFT, "kft", M_PER_KFT, "second-hand copy"),
    ):
        for name, sizes in tables.items():
            table = conductor_tables()[name]
            for size, expected in sizes.items():
                ohm = table.resistance_ohm_m(table.conductor(size, "size"), table.temp_c) * length_m
                yield near(f"{name} {size} [ohm/{unit}]", expected, ohm, 1e-9, "READ-2", source)
    table = conductor_tables()["iec_60228_class_2"]
    at_70, at_20 = (table.resistance_ohm_m(table.conductors[0], temp) for temp in (70.0, 20.0))
    yield near("copper at 70 over 20 degC", 1.1965, at_70 / at_20, 1e-9, "MEMORY", "from memory")


def _voltage_rise() -> Iterator[Check]:
    source = "2 r l I N(N-1)/2 + 2 r L N I"
    bare, with_run = _ten_units(home_run_m=0.0), _ten_units(home_run_m=20.0)
    yield near("ten units of 1.2 A, trunk [V]", 1.4405, bare.total_v, 5e-5, "Derived", source)
    yield near("... with 20 m of home run [V]", 4.9973, with_run.total_v, 5e-5, "Derived", source)
    yield near("... of 230 V [%]", 2.173, with_run.total_share * 100.0, 5e-4, "Derived", source)
    yield yes("... which fails 2 %", with_run.meets_limit is False, "Derived", source)
    table = conductor_tables()["iec_60228_class_2"]
    solved = "numpy.linalg.solve on the cable's conductance matrix"
    yield near("the same by a nodal solution [V]", _nodal_rise_v(table), with_run.total_v, 1e-9, "RUN", solved)
    drop_v = 2.0 * table.resistance_ohm_m(table.conductor("2.5 mm2", "size"), 70.0) * 16.0 * 18.0
    bs_7671 = "second-hand copy of BS 7671: 18 mV/A/m at 70 degC"
    yield near("drop of 2.5 mm2 over 18 m at 16 A [V]", 0.018 * 16.0 * 18.0, drop_v, 0.1, "READ-2", bs_7671)


def _ten_units(*, home_run_m: float) -> CircuitRise:
    """The rise of ten units of 1.2 A at 1.8 m on 2.5 mm2 copper, on a 230 V supply held to 2 %."""
    rules = connection_rules("australia")
    table, capacities = conductor_tables()["iec_60228_class_2"], capacity_tables()["iec_xlpe_90"]
    installation = Installation(capacities, capacities.methods["free_air"], 30.0, 1)
    cable = CableRun("trunk", table, installation, 2, "2.5 mm2", None)
    wiring = Wiring(
        table=table,
        conductor_temp_c=20.0,
        voltage_v=rules.voltage_v,
        limit_share=rules.voltage_rise.value,
        limit_source=rules.voltage_rise.source,
        trunk_feed="end",
        trunk=cable,
        home_run=cable,
        home_run_length_m=home_run_m,
        supply=cable,
        supply_length_m=0.0,
    )
    circuit = CircuitOnTrunk("one", (1,), tuple(1.8 * index for index in range(10)), 20.0)
    (rise,) = voltage_rises([circuit], unit_current_a=1.2, phase_currents_a=[12.0], supply_size="2.5 mm2", wiring=wiring)
    return rise


def _nodal_rise_v(table: ConductorTable) -> float:
    """Ten units of 1.2 A at 1.8 m and 20 m of home run as a network of way and return conductors."""
    units, spacing_m, run_m, current_a = 10, 1.8, 20.0, 1.2
    ohm_m = table.resistance_ohm_m(table.conductor("2.5 mm2", "size"), 20.0)
    # Nodes: way 0..9, return 10..19, then the board's two terminals. The grid holds these at a fixed voltage: taken as zero and
    # left out of the equations, only the rise is left.
    matrix = np.zeros((2 * units + 2, 2 * units + 2))
    for first, board in ((0, 2 * units), (units, 2 * units + 1)):
        trunk = [(first + unit, first + unit + 1, spacing_m) for unit in range(units - 1)]
        for a, b, length_m in [(board, first, run_m), *trunk]:
            conductance = 1.0 / (ohm_m * length_m)
            matrix[[a, b], [a, b]] += conductance
            matrix[[a, b], [b, a]] -= conductance
    feed_a = np.repeat([current_a, -current_a], units)
    volts = np.linalg.solve(matrix[: 2 * units, : 2 * units], feed_a)
    return float(volts[units - 1] - volts[2 * units - 1])


def _dead_load() -> Iterator[Check]:
    source = "a city's expedited form in California"
    yield near("4 psf [kg/m2]", 19.53, kg_m2(4.0), 0.005, "READ", source)
    yield near("4 psf [kPa]", 0.1915, kg_m2(4.0) * STANDARD_GRAVITY_M_S2 / 1000.0, 5e-5, "READ", source)
    demo = demo_scenario()
    unit_kg = mean(unit["mass_kg"] for unit in demo["microinverters"] if unit.get("input_count", 1) == 1)
    trade = "trade fact without source: about 1.1 kg"
    yield within("demo microinverter with its bracket [kg]", 1.0, 1.2, unit_kg, "MEMORY", trade)
    module = demo["module"]
    load = (module["mass_kg"] + unit_kg + 3.0) / (module["length_m"] * module["width_m"])
    yield within("demo roof's dead load [kg/m2]", 10.0, 15.0, load, "MEMORY", "usual dead load")


def _failures() -> Iterator[Check]:
    failures = replacements(20, 0.005, 25)
    yield near("20 units, 0.5 % a year, 25 years: failures", 2.3556, failures.expected, 5e-5, "Derived", "binomial")
    yield near("... probability of any", 0.91843, failures.chance_of_any, 5e-6, "Derived", "binomial")
