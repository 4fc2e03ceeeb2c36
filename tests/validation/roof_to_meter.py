"""From the roof to the meter: published figures of the AC side and of the load on a roof.

No IEC, EN, NEC, BS or AS/NZS standard was opened; the labels say how each figure was obtained.
"""

from __future__ import annotations

from collections.abc import Iterator
from statistics import mean

import numpy as np

from tests.validation.ledger import Check, Label, near, within
from wattpair_service.engineering.branch_circuits import BranchCircuitRules, current_fits, smallest_device_a
from wattpair_service.engineering.connection import Connection, SupplyPoint, busbar_feed_max_a, connection
from wattpair_service.engineering.dead_load import STANDARD_GRAVITY_M_S2, kg_m2
from wattpair_service.engineering.spares import expected_failures, probability_of_any
from wattpair_service.engineering.voltage_rise import CircuitOnTrunk, CircuitRise, ConductorTable, Wiring, voltage_rises
from wattpair_service.equipment import demo_scenario
from wattpair_service.rules import branch_circuit_rules, conductor_tables, connection_rules

MAGAZINE = "IAEI Magazine, Sep/Oct 2020"
MAILING_LIST = "installers' mailing list, 9 Oct 2013"
IEC_COPPER = {
    "iec_60228_class_2": {"1.5 mm2": 12.1, "2.5 mm2": 7.41, "4 mm2": 4.61, "6 mm2": 3.08, "10 mm2": 1.83},
    "iec_60228_class_5": {"1.5 mm2": 13.3, "2.5 mm2": 7.98, "4 mm2": 4.95, "6 mm2": 3.30, "10 mm2": 1.91},
}
NEC_COPPER_KFT = {
    "nec_chapter_9_table_8_solid": {"14 AWG": 3.07, "12 AWG": 1.93, "10 AWG": 1.21, "8 AWG": 0.764},
    "nec_chapter_9_table_8_stranded": {"14 AWG": 3.14, "12 AWG": 1.98, "10 AWG": 1.24, "8 AWG": 0.778},
}
M_PER_KFT = 304.8


def checks() -> Iterator[Check]:
    """Sections 3 and 6 of the published values."""
    yield from _devices()
    yield from _busbar()
    yield from _great_britain()
    yield from _ireland_and_germany()
    yield from _copper()
    yield from _rise()
    yield from _roof()
    yield from _fleet()


def yes(name: str, *, source: str, label: Label, holds: bool) -> Check:
    """A check that something is said, as one or zero."""
    return near(name, source=source, label=label, expected=1.0, got=float(holds), tolerance=0.0)


def route(region: str, currents_a: tuple[float, ...], *, busbar: tuple[float, float] | None = None) -> Connection:
    """The connection of one unit of a current on each phase."""
    bus, main = busbar or (None, None)
    rules = connection_rules(region)
    return connection(rules, (1,) * len(currents_a), max(currents_a), SupplyPoint(rules.voltage_v, bus, main, False))


def ten_units(*, home_run_m: float, temp_c: float = 20.0, trunk: str = "2.5 mm2") -> CircuitRise:
    """The rise of ten units of 1.2 A at 1.8 m on 2.5 mm2 copper, on a 230 V supply held to 2 %."""
    rules = connection_rules("australia")
    wiring = Wiring(
        table=conductor_tables()["iec_60228_class_2"],
        conductor_temp_c=temp_c,
        voltage_v=rules.voltage_v,
        limit_share=rules.voltage_rise.value,
        limit_source=rules.voltage_rise.source,
        trunk_feed="end",
        trunk_size=trunk,
        home_run_length_m=home_run_m,
        home_run_size=trunk,
        supply_length_m=0.0,
        supply_size=None,
    )
    circuit = CircuitOnTrunk("one", 1, tuple(1.8 * index for index in range(10)), 20.0)
    (rise,) = voltage_rises([circuit], unit_current_a=1.2, phase_count=1, wiring=wiring)
    return rise


def _devices() -> Iterator[Check]:
    rules, ratings = branch_circuit_rules("united_states"), connection_rules("united_states").standard_devices_a
    factor = rules.continuous_current_factor
    yield near(
        "breaker for 32 A of continuous output [A]",
        source="second-hand copy of the NEC",
        label="READ-2",
        expected=40.0,
        got=smallest_device_a(current_a=32.0, continuous_current_factor=factor, standard_ratings_a=ratings),
        tolerance=0.0,
    )
    yield near(
        "breaker for a 7.6 kW inverter at 240 V [A]",
        source=MAGAZINE,
        label="READ",
        expected=40.0,
        got=smallest_device_a(current_a=7600.0 / 240.0, continuous_current_factor=factor, standard_ratings_a=ratings),
        tolerance=0.0,
    )
    table = conductor_tables()["nec_chapter_9_table_8_solid"]
    yield near(
        "largest device on 10 AWG, NEC 240.4(D)(7) [A]",
        source=MAGAZINE,
        label="READ",
        expected=30.0,
        got=table.conductor("10 AWG", "size").device_max_a or 0.0,
        tolerance=0.0,
    )
    twenty = BranchCircuitRules(20.0, factor, "a 20 A breaker")
    mixed = 10 * 1.0 + 9 * 0.8
    yield yes("a 20 A breaker carries 16 A continuously", source=MAILING_LIST, label="READ", holds=current_fits(16.0, twenty))
    yield near(
        "ten units of 1.0 A and nine of 0.8 A [A]", source=MAILING_LIST, label="READ", expected=17.2, got=mixed, tolerance=1e-9
    )
    yield yes("those 17.2 A fail on it", source=MAILING_LIST, label="READ", holds=not current_fits(mixed, twenty))


def _busbar() -> Iterator[Check]:
    source = "second-hand copy of NEC 2020, 705.12(B)(3)(2)"
    rule = connection_rules("united_states").busbar
    assert rule is not None, "the region has the rule"
    yield near(
        "feed into a 200 A busbar behind a 200 A main device [A]",
        source=source,
        label="READ-2",
        expected=40.0,
        got=busbar_feed_max_a(busbar_rating_a=200.0, main_device_a=200.0, share=rule.share),
        tolerance=1e-9,
    )
    for current, holds in ((32.0, True), (32.1, False)):
        (check,) = route("united_states", (current,), busbar=(200.0, 200.0)).checks
        words = "passes" if holds else "fails"
        yield yes(f"{current:g} A on that busbar {words}", source=source, label="READ-2", holds=check.meets is holds)


def _great_britain() -> Iterator[Check]:
    source = "a network operator's page on EREC G98"
    rules = connection_rules("great_britain")
    limit = rules.routes[0].current_per_phase_max_a or 0.0
    yield near("Great Britain, current per phase [A]", source=source, label="READ", expected=16.0, got=limit, tolerance=0.0)
    for phases, kilowatts in ((1, 3.68), (3, 11.04)):
        yield near(
            f"Great Britain, {phases} phase, 16 A at 230 V [kW]",
            source=source,
            label="Derived",
            expected=kilowatts,
            got=route("great_britain", (16.0,) * phases).power_total_va / 1000.0,
            tolerance=1e-9,
        )
    for current, name in ((16.0, "EREC G98, single premises"), (16.1, "EREC G99")):
        found = route("great_britain", (current,)).route
        yield yes(f"Great Britain, {current:g} A: {name}", source=source, label="READ", holds=found == name)
    nine = route("great_britain", (9000.0 / 3.0 / 230.0,) * 3)
    yield near(
        "Great Britain, 9 kW on three phases [A per phase]",
        source=source,
        label="READ",
        expected=13.04,
        got=nine.phases[0].current_a,
        tolerance=0.005,
    )
    yield yes("... which is within G98", source=source, label="READ", holds=nine.route == "EREC G98, single premises")
    told = route("great_britain", (10.0,)).filings
    days = "within 28 days" in told[0].when
    yield yes("Great Britain, told within 28 days", source="second-hand copy of G98", label="READ-2", holds=days)


def _ireland_and_germany() -> Iterator[Check]:
    source = "the network operator's conditions NC6"
    six_kw = 6000.0 / 230.0
    yield near("Ireland, 6 kW at 230 V [A]", source=source, label="Derived", expected=26.09, got=six_kw, tolerance=0.005)
    for currents, holds in (((six_kw,), False), ((25.0,), True), ((16.0,) * 3, True), ((16.1,) * 3, False)):
        within_nc6 = route("ireland", currents).route.startswith("NC6")
        name = f"Ireland, {currents[0]:.2f} A on {len(currents)}: {'within' if holds else 'not within'} NC6"
        yield yes(name, source=source, label="READ", holds=within_nc6 is holds)
    german = "second-hand copy of VDE-AR-N 4100, 5.5"
    for power, holds in ((4600.0, True), (4601.0, False)):
        (check,) = route("germany", (power / 230.0,)).checks
        name = f"Germany, {power:g} VA on one phase {'passes' if holds else 'fails'}"
        yield yes(name, source=german, label="READ-2", holds=check.meets is holds)
    rise = connection_rules("australia").voltage_rise.value or 0.0
    australian = "second-hand copy of AS/NZS 4777.1"
    yield near("Australia, voltage rise", source=australian, label="READ-2", expected=0.02, got=rise, tolerance=0.0)
    yield near("Australia, of 230 V [V]", source=australian, label="READ-2", expected=4.6, got=rise * 230.0, tolerance=1e-9)
    line = rise * 400.0
    yield near(
        "Australia, of 400 V line to line [V]", source=australian, label="READ-2", expected=8.0, got=line, tolerance=1e-9
    )


def _copper() -> Iterator[Check]:
    for name, sizes in (IEC_COPPER | NEC_COPPER_KFT).items():
        table = conductor_tables()[name]
        kft = name in NEC_COPPER_KFT
        source = "second-hand copy" if kft else "second-hand copies of IEC 60228, three agree"
        for size, expected in sizes.items():
            per_km = table.resistance_ohm_m(table.conductor(size, "size"), table.temp_c) * 1000.0
            got = per_km * M_PER_KFT / 1000.0 if kft else per_km
            yield near(
                f"{name} {size} [ohm/{'kft' if kft else 'km'}]",
                source=source,
                label="READ-2",
                expected=expected,
                got=got,
                tolerance=1e-9,
            )
    table = conductor_tables()["iec_60228_class_2"]
    at_70, at_20 = (table.resistance_ohm_m(table.conductors[0], temp) for temp in (70.0, 20.0))
    yield near(
        "copper at 70 over 20 degC", source="from memory", label="MEMORY", expected=1.1965, got=at_70 / at_20, tolerance=1e-9
    )


def _rise() -> Iterator[Check]:
    source = "2 r l I N(N-1)/2 + 2 r L N I"
    bare, with_run = ten_units(home_run_m=0.0), ten_units(home_run_m=20.0)
    yield near(
        "ten units of 1.2 A, trunk [V]", source=source, label="Derived", expected=1.4405, got=bare.total_v, tolerance=5e-5
    )
    yield near(
        "... with 20 m of home run [V]", source=source, label="Derived", expected=4.9973, got=with_run.total_v, tolerance=5e-5
    )
    share = with_run.total_share * 100.0
    yield near("... of 230 V [%]", source=source, label="Derived", expected=2.173, got=share, tolerance=5e-4)
    yield yes("... which fails 2 %", source=source, label="Derived", holds=with_run.meets_limit is False)
    by_nodes = nodal_rise_v(conductor_tables()["iec_60228_class_2"])
    yield near(
        "the same by a nodal solution [V]",
        source="numpy.linalg.solve on the cable's conductance matrix",
        label="RUN",
        expected=by_nodes,
        got=with_run.total_v,
        tolerance=1e-9,
    )
    drop = 0.018 * 16.0 * 18.0
    table = conductor_tables()["iec_60228_class_2"]
    loop = 2.0 * table.resistance_ohm_m(table.conductor("2.5 mm2", "size"), 70.0) * 16.0 * 18.0
    yield near(
        "drop of 2.5 mm2 over 18 m at 16 A [V]",
        source="second-hand copy of BS 7671: 18 mV/A/m at 70 degC",
        label="READ-2",
        expected=drop,
        got=loop,
        tolerance=0.1,
    )


def nodal_rise_v(table: ConductorTable) -> float:
    """Ten units of 1.2 A at 1.8 m and 20 m of home run as a network of way and return conductors."""
    units, spacing, run, current = 10, 1.8, 20.0, 1.2
    ohm_m = table.resistance_ohm_m(table.conductor("2.5 mm2", "size"), 20.0)
    # Nodes: way 0..9, return 10..19 and the board's return 20; the board's way is the reference.
    matrix, feed = np.zeros((22, 22)), np.zeros(22)
    board_way, board_return = 20, 21
    for way, board in ((0, board_way), (units, board_return)):
        for a, b, length in [(board, way, run), *((way + i, way + i + 1, spacing) for i in range(units - 1))]:
            conductance = 1.0 / (ohm_m * length)
            matrix[[a, b], [a, b]] += conductance
            matrix[[a, b], [b, a]] -= conductance
    feed[:units] += current
    feed[units : 2 * units] -= current
    # The grid holds the board's two terminals at a fixed voltage: taken as zero, only the rise is left.
    keep = np.arange(2 * units)
    volts = np.linalg.solve(matrix[np.ix_(keep, keep)], feed[keep])
    return float(volts[units - 1] - volts[2 * units - 1])


def _roof() -> Iterator[Check]:
    source = "a city's expedited form in California"
    yield near("4 psf [kg/m2]", source=source, label="READ", expected=19.53, got=kg_m2(4.0), tolerance=0.005)
    kilopascal = kg_m2(4.0) * STANDARD_GRAVITY_M_S2 / 1000.0
    yield near("4 psf [kPa]", source=source, label="READ", expected=0.1915, got=kilopascal, tolerance=5e-5)
    units = [unit["mass_kg"] for unit in demo_scenario()["microinverters"] if unit.get("input_count", 1) == 1]
    yield within(
        "demo microinverter with its bracket [kg]",
        source="trade fact without source: about 1.1 kg",
        label="MEMORY",
        low=1.0,
        high=1.2,
        got=mean(units),
    )
    module = demo_scenario()["module"]
    load = (module["mass_kg"] + mean(units) + 3.0) / (module["length_m"] * module["width_m"])
    yield within("demo roof's dead load [kg/m2]", source="usual dead load", label="MEMORY", low=10.0, high=15.0, got=load)


def _fleet() -> Iterator[Check]:
    mean_failures, any_failure = expected_failures(20, 0.005, 25), probability_of_any(20, 0.005, 25)
    yield near(
        "20 units, 0.5 % a year, 25 years: failures",
        source="binomial",
        label="Derived",
        expected=2.3556,
        got=mean_failures,
        tolerance=5e-5,
    )
    yield near("... probability of any", source="binomial", label="Derived", expected=0.91843, got=any_failure, tolerance=5e-6)
