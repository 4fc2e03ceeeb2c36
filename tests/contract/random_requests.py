"""Valid requests at random: designs and orders of every kind of roof, shade, equipment, place and price."""

from __future__ import annotations

import copy
import math
from typing import Any, get_args

from hypothesis import strategies as st

from tests.builders import LATITUDE_DEG, LONGITUDE_DEG, numbers
from tests.contract.bodies import Body, example, hourly_weather
from wattpair_service.engineering.materials.mounting import ATTACHMENTS, BondingJumpers, EarthLugs
from wattpair_service.engineering.module.cell_temperature import MOUNTINGS
from wattpair_service.rules import region_data, regions

EXAMPLE = example("design_roof")
MODULE = EXAMPLE["modules"][0]["module"]
OPTIONAL = ("tariff", "price_book", "circuits", "materials", "labour_per_visit", "share_used_at_home", "discount_rate_percent")


@st.composite
def modules(draw: st.DrawFn) -> Body:
    """The example's module with other currents, other voltages and other sides."""
    module: Body = copy.deepcopy(EXAMPLE["modules"][0])
    current, voltage = draw(numbers(0.5, 1.4)), draw(numbers(0.6, 1.6))
    for name in ("current_sc_a", "current_mp_a"):
        module["module"][name] *= current
    for name in ("voltage_oc_v", "voltage_mp_v"):
        module["module"][name] *= voltage
    module["module"]["power_w"] *= current * voltage
    if draw(st.booleans()):
        module["module"] |= {"bifaciality": draw(numbers(0.0, 1.0)), "series_fuse_rating_a": draw(numbers(21.0, 40.0))}
    if draw(st.booleans()):
        module["module"] |= {"half_cut_cells": draw(st.booleans()), "bypass_group_count": draw(st.integers(1, 6))}
    return module


@st.composite
def candidates(draw: st.DrawFn, number: int) -> Body:
    """Units that fit, and units that do not, with and without derating."""
    offer: Body = copy.deepcopy(draw(st.sampled_from(EXAMPLE["candidates"])))
    inputs = draw(st.sampled_from([1, 1, 2, 4]))
    window = sorted(draw(st.tuples(*[numbers(10.0, 70.0)] * 4)))
    start_c = draw(numbers(15.0, 70.0))
    offer["microinverter"] |= {
        "name": f"Unit {number}",
        "input_count": inputs,
        "modules_per_input_max": draw(st.sampled_from([1, 2, 4])),
        "ac_power_w": inputs * draw(numbers(150.0, 600.0)),
        "dc_operating_voltage_min_v": window[0],
        "dc_full_power_voltage_min_v": window[1],
        "dc_full_power_voltage_max_v": window[2],
        "dc_operating_voltage_max_v": window[3],
        "dc_start_voltage_v": draw(numbers(window[0], window[3])),
        "dc_voltage_max_v": window[3] + draw(numbers(0.0, 15.0)),
        "dc_current_max_a": draw(numbers(6.0, 20.0)),
        "dc_short_circuit_current_max_a": draw(numbers(20.0, 30.0)),
        "shade_tracker": draw(st.sampled_from(["global", "global", "local"])),
    }
    if draw(st.booleans()):
        offer["microinverter"]["derating"] = {
            "start_temp_c": start_c,
            "percent_per_k": draw(numbers(0.5, 5.0)),
            "shutdown_temp_c": start_c + draw(numbers(1.0, 20.0)),
        }
    return offer


@st.composite
def designs(draw: st.DrawFn) -> Body:
    """Valid requests: other places, roofs, regions and equipment, with and without what may be left out."""
    body: dict[str, Any] = copy.deepcopy(EXAMPLE)
    for name in draw(st.sets(st.sampled_from(OPTIONAL))):
        body.pop(name, None)
    if "tariff" not in body:
        body.pop("share_used_at_home", None)
    if draw(st.sampled_from([True, False, False])):
        body["string_inverters"] = draw(st.lists(string_inverters(), min_size=1, max_size=2))
    place = draw(st.sampled_from([(52.1, 5.2), (36.1, -79.95), (-33.9, 18.6), (64.1, -21.8), (-41.3, 174.8), (1.4, 103.8)]))
    body["site"] = {"latitude_deg": place[0], "longitude_deg": place[1]}
    body["region"] = draw(st.sampled_from(sorted(regions())))
    if body["region"] != "germany":
        body.pop("circuits", None)
    body["modules"] = [draw(modules())]
    body |= {"modules_per_input": draw(st.sampled_from([1, 1, 2, 3])), "wiring": draw(st.sampled_from(["series", "parallel"]))}
    body["candidates"] = [draw(candidates(number)) for number in range(draw(st.integers(1, 4)))]
    if "string_inverters" in body:
        # Without a microinverter that passes there is nothing to compare with.
        fitting: Body = copy.deepcopy(EXAMPLE["candidates"][0])
        fitting["microinverter"] |= {"dc_voltage_max_v": 120, "dc_short_circuit_current_max_a": 40}
        body |= {"candidates": [*body["candidates"][:3], fitting], "modules_per_input": 1}
    if "price_book" in body:
        body["price_book"]["part_numbers"] = body["price_book"]["part_numbers"][:1]
    for face in body["faces"]:
        face |= {
            "tilt_deg": draw(numbers(0.0, 90.0)),
            "azimuth_deg": draw(numbers(0.0, 360.0)),
            "mounting": draw(st.sampled_from(sorted(MOUNTINGS))),
            "shading_share": draw(st.sampled_from([0.0, 0.05, 0.9])),
        }
    if draw(st.booleans()):
        body |= draw(shaded(body))
    body["faces"] = body["faces"][draw(st.integers(0, 1)) :]
    return body | draw(terms(body))


@st.composite
def shaded(draw: st.DrawFn, body: Body) -> Body:
    """Faces and surroundings of the example with what throws shade: on one face, on both or around all."""
    by_layout, counted = copy.deepcopy(body["faces"])
    for face in (by_layout, counted):
        # Nothing stands on a wall.
        face["tilt_deg"] = min(face["tilt_deg"], 75.0)
    if draw(st.booleans()):
        by_layout["layout"]["obstructions"][0] |= draw(tops())
    if draw(st.booleans()):
        by_layout["layout"]["left_out"] = draw(st.lists(st.integers(1, 3), max_size=3))
    if draw(st.booleans()):
        by_layout["shade"] = draw(face_shades(None))
    if draw(st.booleans()):
        by_layout["horizon"] = draw(horizons())
    counted["shade"] = draw(face_shades(counted["module_count"]))
    around = {"horizon": horizons(), "trees": st.lists(trees(), max_size=2), "buildings": st.lists(buildings(), max_size=2)}
    chosen: Body = {name: draw(around[name]) for name in draw(st.sets(st.sampled_from(sorted(around))))}
    return {"faces": [by_layout, counted]} | ({"surroundings": chosen} if chosen else {})


@st.composite
def face_shades(draw: st.DrawFn, module_count: int | None) -> Body:
    """What shades a face of so many modules in a row, or, with None, those of a layout; nothing touches a module."""
    beside = -2.0 * MODULE["length_m"]
    kinds: Body = {
        "objects": st.lists(roof_objects(beside), max_size=2),
        "trees": st.lists(trees(), max_size=2),
        "buildings": st.lists(buildings(), max_size=2),
        "beam_survey": surveys(module_count),
        "tolerance_percent": numbers(0.0, 50.0),
        "corner": st.fixed_dictionaries(
            {"east_m": numbers(-5.0, 5.0), "north_m": numbers(-5.0, 5.0), "up_m": numbers(-3.0, 3.0)}
        ),
    }
    shade: Body = {name: draw(kinds[name]) for name in draw(st.sets(st.sampled_from(sorted(kinds))))}
    if module_count is not None:
        orientation = draw(st.sampled_from(["portrait", "landscape"]))
        side_m = MODULE["width_m" if orientation == "portrait" else "length_m"] + draw(numbers(0.0, 0.5))
        corners = [{"x_m": side_m * number, "y_m": 0.0} for number in range(module_count)]
        shade["module_places"] = {"orientation": orientation, "corners": corners}
    return shade


def horizons() -> st.SearchStrategy[list[Body]]:
    """Of one to four directions, each with one height."""
    point = st.fixed_dictionaries({"azimuth_deg": st.integers(0, 359), "elevation_deg": numbers(0.0, 90.0)})
    return st.lists(point, max_size=4, unique_by=lambda each: each["azimuth_deg"])


@st.composite
def tops(draw: st.DrawFn) -> Body:
    """Height and top of an object."""
    height_m = draw(numbers(0.05, 4.0))
    shapes: list[Body] = [
        {},
        {"top": "flat"},
        {"top": "sloped", "top_slope_deg": draw(numbers(-80.0, 80.0))},
        {
            "top": "gabled",
            "eaves_height_m": height_m * draw(numbers(0.0, 1.0)),
            "ridge": draw(st.sampled_from(["up_slope", "along_eaves"])),
        },
    ]
    return {"height_m": height_m} | draw(st.sampled_from(shapes))


@st.composite
def roof_objects(draw: st.DrawFn, right_m: float) -> Body:
    """Three corners or four, all left of `right_m`."""
    x, y, width, depth = (draw(numbers(*each)) for each in ((-5.0, -1.0), (-3.0, 5.0), (0.05, 1.0), (0.05, 2.0)))
    left = right_m + x
    corners = [(left, y), (left + width, y), (left + width, y + depth), (left, y + depth)][: draw(st.integers(3, 4))]
    return {"outline": [{"x_m": each_x, "y_m": each_y} for each_x, each_y in corners]} | draw(tops())


@st.composite
def away(draw: st.DrawFn, least_m: float) -> Body:
    """So far from the corner, in any direction."""
    distance_m, direction = least_m + draw(numbers(0.0, 60.0)), math.radians(draw(numbers(0.0, 360.0)))
    return {"east_m": distance_m * math.sin(direction), "north_m": distance_m * math.cos(direction)}


@st.composite
def trees(draw: st.DrawFn) -> Body:
    """Trees whose crowns stand clear of the roof."""
    height_m = draw(numbers(0.5, 40.0))
    tree: Body = draw(away(30.0)) | {
        "ground_up_m": draw(numbers(-12.0, 5.0)),
        "height_m": height_m,
        "crown_base_m": height_m * draw(numbers(0.0, 0.95)),
        "crown_diameter_m": draw(numbers(0.1, 12.0)),
    }
    if draw(st.booleans()):
        tree["transmittance_by_month"] = draw(st.lists(numbers(0.0, 1.0), min_size=12, max_size=12))
    if draw(st.booleans()):
        tree["trunk_diameter_m"] = draw(numbers(0.0, 2.0))
    return tree


@st.composite
def buildings(draw: st.DrawFn) -> Body:
    """Buildings that stand clear of the roof, some of them below it."""
    top_up_m = draw(numbers(-10.0, 30.0))
    building: Body = draw(away(45.0)) | {
        "length_m": draw(numbers(0.1, 30.0)),
        "width_m": draw(numbers(0.1, 30.0)),
        "length_azimuth_deg": draw(numbers(0.0, 360.0)),
        "top_up_m": top_up_m,
    }
    if draw(st.booleans()):
        building["eaves_up_m"] = top_up_m - draw(numbers(0.0, 6.0))
    return building


@st.composite
def surveys(draw: st.DrawFn, module_count: int | None) -> Body:
    """Shares of the beam by hour, alike in all months, of the face or of each of its modules."""

    def table() -> list[list[float]]:
        morning, noon, evening = (draw(numbers(0.0, 1.0)) for _ in range(3))
        return [[morning] * 10 + [noon] * 5 + [evening] * 9] * 12

    if module_count is None or draw(st.booleans()):
        return {"by_month_hour": table()}
    return {"by_module": [table() for _ in range(module_count)]}


@st.composite
def terms(draw: st.DrawFn, body: Body) -> Body:
    """What else a design may be given: materials, costs, prices by hour, a household's load, hourly weather."""
    choices: Body = {
        "export_limit_w": numbers(0.0, 6000.0),
        "materials": material_terms(),
        "connection_costs": connection_costs(body["region"]),
        "load_w": loads(),
        "weather": st.just(hourly_weather()),
    }
    if "tariff" in body:
        choices["tariff"] = tariffs()
    given: Body = {name: draw(choices[name]) for name in draw(st.sets(st.sampled_from(sorted(choices))))}
    if "load_w" in given:
        body.pop("share_used_at_home", None)
    if "weather" in given:
        given["site"] = {"latitude_deg": LATITUDE_DEG, "longitude_deg": LONGITUDE_DEG}
    return given


@st.composite
def string_inverters(draw: st.DrawFn) -> Body:
    """String inverters that fit, and some that do not, with and without prices and optimisers."""
    highest_v = draw(st.sampled_from([150.0, 600.0, 1000.0]))
    window = sorted(draw(st.tuples(*[numbers(20.0, highest_v)] * 2)))
    inverter: Body = {
        "name": draw(st.sampled_from(["String 3", "String 8"])),
        "ac_power_w": draw(numbers(1500.0, 12000.0)),
        "ac_phase_count": draw(st.sampled_from([1, 3])),
        "dc_voltage_max_v": highest_v,
        "tracker_count": draw(st.integers(1, 6)),
        "tracker_voltage_min_v": window[0] if draw(st.booleans()) else 20.0,
        "tracker_voltage_max_v": max(window[1], 30.0),
        "start_voltage_v": window[0],
        "tracker_current_max_a": draw(numbers(8.0, 30.0)),
        "tracker_short_circuit_current_max_a": draw(numbers(18.0, 40.0)),
        "european_efficiency_percent": draw(numbers(92.0, 99.0)),
        "shade_tracker": draw(st.sampled_from(["global", "local"])),
    }
    one: Body = {
        "inverter": inverter,
        "expected_life_years": draw(numbers(1.0, 40.0)),
        "warranty_years": draw(st.integers(0, 25)),
    }
    if draw(st.booleans()):
        one |= {"price": draw(numbers(0.0, 4000.0)), "balance_of_plant": draw(numbers(0.0, 2000.0))}
    if draw(st.booleans()):
        one["optimiser"] = {
            "name": "optimiser", "efficiency_percent": draw(numbers(95.0, 99.9)), "voltage_min_v": draw(numbers(5.0, 20.0)),
            "voltage_max_v": draw(numbers(60.0, 120.0)), "price": draw(numbers(0.0, 90.0)),
        }  # fmt: skip
    return one


def tariffs() -> st.SearchStrategy[Body]:
    """Import prices by bands of hours, and one export price."""
    return st.fixed_dictionaries({"import_price_bands": bands(), "export_price_per_kwh": numbers(-0.1, 0.2)})


def connection_costs(region: str) -> st.SearchStrategy[list[Body]]:
    """What one of the region's grid connection procedures costs."""
    codes = st.sampled_from([route["code"] for route in region_data(region)["routes"]])
    return st.lists(st.fixed_dictionaries({"procedure": codes, "cost": numbers(0.0, 900.0)}), min_size=1, max_size=1)


@st.composite
def material_terms(draw: st.DrawFn) -> Body:
    """Mounting systems on every roof covering, trunks by the section and by the metre."""
    return {
        "mounting_system": {
            "roof_covering": draw(st.sampled_from(sorted(ATTACHMENTS))),
            "rails_per_row": draw(st.integers(0, 3)),
            "rail_length_m": draw(numbers(1.0, 6.5)),
            "offcuts_reused": draw(st.booleans()),
            "bonding_jumpers": draw(st.sampled_from(get_args(BondingJumpers))),
            "earth_lugs": draw(st.sampled_from(get_args(EarthLugs))),
        },
        "trunk_system": {"sold_by_length": draw(st.booleans())},
        "surge_protection": draw(st.booleans()),
        "spare_share": draw(numbers(0.0, 0.2)),
        "backup": {"wanted": draw(st.booleans()), "grid_forming_units": draw(st.booleans())},
    }


@st.composite
def bands(draw: st.DrawFn) -> list[Body]:
    """A dear band of the day and a cheap one past midnight, in every month or apart on weekdays."""
    start = draw(st.integers(1, 12))
    end = draw(st.integers(start + 1, 23))
    day = {"from_hour": start, "to_hour": end, "price_per_kwh": draw(numbers(0.1, 0.6))}
    night = {"from_hour": end, "to_hour": start, "price_per_kwh": draw(numbers(0.0, 0.2))}
    if draw(st.booleans()):
        return [day, night]
    flat = {"from_hour": 0, "to_hour": 24, "days": "weekend", "price_per_kwh": draw(numbers(0.0, 0.3))}
    return [day | {"days": "weekdays"}, night | {"days": "weekdays"}, flat]


@st.composite
def loads(draw: st.DrawFn) -> list[float]:
    """A household's load: a mean day, a mean day of each month, or every hour of a year with a car at some noons."""
    day = [draw(numbers(50.0, 900.0)) for _ in range(24)]
    length = draw(st.sampled_from([24, 288, 8760]))
    every = draw(st.integers(2, 9))
    return [day[hour % 24] + 7400.0 * (length == 8760 and hour % (24 * every) in (12, 13)) for hour in range(length)]


@st.composite
def orders(draw: st.DrawFn) -> Body:
    """Valid requests for a bill of materials: other faces, regions, units and phases."""
    body: Body = copy.deepcopy(example("list_materials"))
    body["region"] = draw(st.sampled_from(sorted(regions())))
    body["faces"] = [
        {"name": f"face {number}", "module_count": count}
        for number, count in enumerate(draw(st.lists(st.integers(1, 40), min_size=1, max_size=4)))
    ]
    body["modules_per_unit"] = draw(st.sampled_from([1, 1, 2, 4]))
    body["unit_ac_current_a"] = draw(numbers(0.8, 7.0))
    for name in draw(st.sets(st.sampled_from(["price_book", "home_run_length_m", "spare_drops_per_circuit"]))):
        body.pop(name, None)
    return body
