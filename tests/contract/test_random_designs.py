"""Whatever is asked for as a design, it can be told in every form, language and paper."""

from __future__ import annotations

import copy
from typing import Any

from flask.testing import FlaskClient
from hypothesis import event, given, settings, strategies as st

from tests.builders import numbers
from tests.contract.bodies import Body, example
from tests.contract.test_sheet import HTML, JSON, PDF, ask
from wattpair_service.engineering.module.cell_temperature import MOUNTINGS
from wattpair_service.engineering.sentences import LANGUAGES
from wattpair_service.rules import regions

EXAMPLE = example("design_roof")
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
    place = draw(st.sampled_from([(52.1, 5.2), (36.1, -79.95), (-33.9, 18.6), (64.1, -21.8), (-41.3, 174.8), (1.4, 103.8)]))
    body["site"] = {"latitude_deg": place[0], "longitude_deg": place[1]}
    body["region"] = draw(st.sampled_from(sorted(regions())))
    if body["region"] != "germany":
        body.pop("circuits", None)
    body["modules"] = [draw(modules())]
    body |= {"modules_per_input": draw(st.sampled_from([1, 1, 2, 3])), "wiring": draw(st.sampled_from(["series", "parallel"]))}
    body["candidates"] = [draw(candidates(number)) for number in range(draw(st.integers(1, 4)))]
    if "price_book" in body:
        body["price_book"]["part_numbers"] = body["price_book"]["part_numbers"][:1]
    for face in body["faces"]:
        face |= {
            "tilt_deg": draw(numbers(0.0, 90.0)),
            "azimuth_deg": draw(numbers(0.0, 360.0)),
            "mounting": draw(st.sampled_from(sorted(MOUNTINGS))),
            "shading_share": draw(st.sampled_from([0.0, 0.05, 0.9])),
        }
    body["faces"] = body["faces"][draw(st.integers(0, 1)) :]
    if draw(st.booleans()):
        body["export_limit_w"] = draw(numbers(0.0, 6000.0))
    return body


@settings(max_examples=max(settings().max_examples // 8, 8))
@given(designs(), st.sampled_from(["A4", "Letter"]), st.data())
def test_every_form_of_a_random_design_is_given(client: FlaskClient, body: Body, paper: str, data: st.DataObject) -> None:
    answer = ask(client, body, JSON)
    assert answer.status_code == 200, answer.get_data(as_text=True)
    event("with findings" if any(check["verdict"] != "ok" for check in checks(answer.json)) else "without")
    sheets = [body | {"sheet": {"language": language, "paper": paper}} for language in LANGUAGES]
    for sheet in sheets:
        page = ask(client, sheet, HTML)
        assert (page.status_code, page.mimetype) == (200, HTML), page.get_data(as_text=True)
    printed = ask(client, data.draw(st.sampled_from(sheets)), PDF)
    assert printed.get_data().startswith(b"%PDF"), printed.get_data(as_text=True)


def checks(design: Any) -> list[Body]:
    """Every electrical check of a design."""
    return [check for result in design["sizing"] for pairing in result["pairings"] for check in pairing["checks"]]
