"""What is bought, laid out, wired and ordered, and the rules of regions, against the real service."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

import wattpair
from tests.sdk.conftest import FACES, MODULE, SITE, UNITS
from wattpair import Client

BILL: dict[str, Any] = {
    "faces": [wattpair.FaceCount(name="south", module_count=8)],
    "unit_ac_current_a": 1.5,
    "module_mass_kg": 21.3,
    "unit_mass_kg": 1.1,
}
TARIFF = wattpair.Tariff(import_price_per_kwh=0.3, export_price_per_kwh=0.08)
CIRCUITS: dict[str, Any] = {"unit_ac_current_a": 1.5, "home_run_length_m": 15}


def test_materials(client: Client) -> None:
    result = client.list_materials(**BILL)
    assert result.unit_count == 8
    assert list(result.to_frame()["role"]) == [line.role for line in result.lines]
    assert result.circuits_to_frame()["unit_count"].sum() == 8
    assert list(result.masses_to_frame()["face"]) == ["south"]
    assert "net" not in result.to_frame()


def test_prices_are_decimals_to_the_last_digit(client: Client) -> None:
    book = wattpair.PriceBook(
        currency="EUR",
        tax_percent=Decimal("21"),
        markup_percent="12.5",
        items=[
            wattpair.PriceItem(part_number="M", cost=Decimal("100.10"), price=Decimal("1.2E+2")),
            {"part_number": "U", "cost": "80.01"},
        ],
        part_numbers=[
            wattpair.PartNumber(role="module", part_number="M"),
            wattpair.PartNumber(role="microinverter", part_number="U"),
        ],
    )
    result = client.list_materials(**BILL, price_book=book, backup=wattpair.Backup(wanted=True))
    assert result.prices is not None
    table = result.to_frame().set_index("role")
    assert table.loc["module", "net"] == Decimal("960.00")
    assert isinstance(result.prices.total, Decimal)
    assert result.prices.net + result.prices.tax == result.prices.total
    assert str(result.prices.net) == f"{result.prices.net:.2f}"
    assert not result.prices.complete
    assert {each.role for each in result.prices.missing} <= set(table.index)
    assert result.backup.parts


def test_circuits(client: Client) -> None:
    faces = [wattpair.CircuitFace(name="south", module_count=16), wattpair.CircuitFace(name="west", module_count=5)]
    result = client.plan_circuits(**CIRCUITS, faces=faces, region="netherlands")
    circuits = result.to_frame()
    assert circuits["unit_count"].sum() == result.unit_count == 21
    assert "units_by_face" not in circuits
    assert list(result.rises_to_frame()["circuit"]) == list(circuits["name"])
    assert result.phases_to_frame()["power_va"].sum() == pytest.approx(result.connection.power_total_va)
    assert list(result.checks_to_frame()["name"]) == [check.name for check in result.connection.checks]


def test_rules_that_were_read_can_be_sent_back(client: Client) -> None:
    regions = client.list_regions()
    names = [region.name for region in regions.regions]
    assert list(regions.to_frame()["name"]) == names
    faces = [wattpair.CircuitFace(name="south", module_count=16)]
    for name in names:
        region = client.read_region(name=name)
        named = client.plan_circuits(**CIRCUITS, faces=faces, region=name)
        sent = client.plan_circuits(**CIRCUITS, faces=faces, region_rules=region.rules)
        assert (sent.circuits, sent.connection.checks) == (named.circuits, named.connection.checks), name
        assert region.cautions
        table = region.to_frame()
        assert table[~table["topic"].str.contains("filings")][["clause", "obtained"]].notna().all(axis=None)
        assert {"short_circuit_current", "branch_circuit"} <= set(table["topic"])


@pytest.mark.parametrize("name", ["atlantis", "", "../sizing", "a/b", "é"])
def test_a_region_that_is_not_there_is_not_found(client: Client, name: str) -> None:
    with pytest.raises(wattpair.NotFound):
        client.read_region(name=name)


def test_layout(client: Client) -> None:
    corners = [wattpair.Point(x_m=x, y_m=y) for x, y in ((4, 2), (5, 2), (5, 3), (4, 3))]
    result = client.lay_out_face(
        width_m=9, height_m=5, obstructions=[wattpair.Obstruction(outline=corners)], module_length_m=1.74, module_width_m=1.12
    )
    assert len(result.to_frame()) == result.arrangement.module_count == sum(result.arrangement.row_module_counts) > 0
    assert result.arrangement.module_count == max(each.module_count for each in result.tried)


def test_selection(client: Client) -> None:
    result = client.select_microinverters(
        site=wattpair.Site(**SITE),
        modules=[wattpair.ModuleOffer(module=MODULE)],
        candidates=[wattpair.Candidate(microinverter=unit, price=90 + 30 * index) for index, unit in enumerate(UNITS)],
        faces=FACES,
        tariff=TARIFF,
        share_used_at_home=0.4,
    )
    assert result.ranked_by == "net present value"
    table = result.to_frame()
    assert list(table["microinverter"]) == [unit.name for unit in UNITS]
    ranked = table.dropna(subset=["rank"]).sort_values("rank")
    assert ranked.iloc[0]["microinverter"] == result.recommendation.microinverter
    assert ranked["net_present_value"].is_monotonic_decreasing
    places = [place for pair in result.break_evens for place in pair.places]
    assert len(result.break_evens_to_frame()) == len(places) > 0
    assert len(result.curves_to_frame()) == sum(len(place.gains) for place in places)
    assert list(result.sensitivities_to_frame()["name"]) == [each.name for each in result.sensitivities]
    assert len(result.scenarios_to_frame()) == len(result.recommendation.scenarios)
    for each in (table, result.curves_to_frame()):
        assert each.attrs["cautions"] == result.cautions


def test_design(client: Client) -> None:
    garden = wattpair.DesignFace(
        name="garden side", tilt_deg=32, azimuth_deg=195, layout=wattpair.FaceLayout(width_m=7, height_m=4)
    )
    street = wattpair.DesignFace(name="street side", tilt_deg=32, azimuth_deg=15, module_count=3)
    result = client.design_roof(
        site=wattpair.Site(**SITE),
        modules=[wattpair.ModuleOffer(module=MODULE, price=95)],
        candidates=[wattpair.Candidate(microinverter=unit, price=90 + 10 * index) for index, unit in enumerate(UNITS)],
        faces=[garden, street],
        tariff=TARIFF,
        build=wattpair.Build(microinverter=UNITS[0].name),
        circuits=wattpair.CircuitTerms(home_run_length_m=12),
        materials=wattpair.DesignMaterialTerms(spare_share=0),
    )
    assert result.built.pairing is not None
    assert result.built.pairing.microinverter == UNITS[0].name
    layout = result.faces[0].layout
    assert layout is not None
    assert result.bill_of_materials is not None
    ordered = {line.role: 0 for line in result.bill_of_materials.lines}
    for line in result.bill_of_materials.lines:
        ordered[line.role] += line.quantity
    assert ordered["module"] == ordered["microinverter"] == layout.arrangement.module_count + 3
    assert "microinverter_spare" not in ordered
    assert result.cautions
    assert not result.selection.cautions
