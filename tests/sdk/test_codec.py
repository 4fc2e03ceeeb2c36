"""Types are checked before anything is sent, and answers for everything that their classes promise."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from tests.sdk.contract import Operation, operations, sample
from tests.sdk.recorder import recording
from wattpair import BadAnswer, Client, FaceCount, HorizonPoint, HourlyWeather, Microinverter, PriceItem, Site
from wattpair.codec import decode
from wattpair.operations import CALLS

OPERATIONS = {operation.name: operation for operation in operations() if hasattr(Client, operation.name)}
COUNTS: dict[str, Any] = {
    "faces": [FaceCount(name="south", module_count=8)],
    "unit_ac_current_a": 1.5,
    "module_mass_kg": 21.3,
    "unit_mass_kg": 1.1,
}
BILL: Any = sample(OPERATIONS["list_materials"].answer)
CLIPPING: dict[str, Any] = {"site": {}, "module": {}, "microinverters": [], "faces": []}
YEAR: dict[str, Any] = {
    "first_label": "2023-01-01T00:00",
    "utc_offset_h": 1,
    "interval_label": "start",
    "ghi_w_m2": [0.0] * 8760,
    "temp_air_c": [10.0] * 8760,
}
NO_DECIMALS: list[object] = ["", "1,5", True, {}]
HORIZON = HorizonPoint(azimuth_deg=90, elevation_deg=12.5)


class Text(str, Enum):  # noqa: UP042 - its str() is not its text, unlike that of a StrEnum
    SOUTH = "south"


def bill_sent(**changes: Any) -> Any:
    """The body of a request for the bill of materials."""
    client, recorder = recording(BILL)
    client.list_materials(**(COUNTS | changes))
    return recorder.sent[0].body


def weather_sent(weather: Any) -> Any:
    """The weather in the body of a request for the clipping."""
    client, recorder = recording(sample(OPERATIONS["compute_clipping"].answer))
    client.compute_clipping(**CLIPPING, weather=weather)
    return recorder.sent[0].body["weather"]


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"unit_ac_current_a": "1.5"}, "unit_ac_current_a: '1.5' (str) was given; allowed is a number"),
        ({"unit_ac_current_a": True}, "unit_ac_current_a: True (bool) was given; allowed is a number"),
        ({"unit_ac_current_a": None}, "missing a required argument: 'unit_ac_current_a'"),
        ({"unit_ac_current_a": np.True_}, "unit_ac_current_a: np.True_ (bool) was given; allowed is a number"),
        ({"unit_ac_current_a": np.array([1.5])}, "unit_ac_current_a: array([1.5]) (ndarray) was given; allowed is a number"),
        ({"phase_count": np.bool_(True)}, "phase_count: np.True_ (bool) was given; allowed is a whole number"),
        ({"phase_count": True}, "phase_count: True (bool) was given; allowed is a whole number"),
        ({"phase_count": Decimal(1)}, "phase_count: Decimal('1') (Decimal) was given; allowed is a whole number"),
        ({"phase_count": 1.0}, "phase_count: 1.0 (float) was given; allowed is a whole number"),
        ({"region": 3}, "region: 3 (int) was given; allowed is a text"),
        ({"trunk_feed": 3}, "trunk_feed: 3 (int) was given; allowed is a text"),
        ({"faces": COUNTS["faces"][0]}, "(FaceCount) was given; allowed is a sequence"),
        ({"faces": "south"}, "faces: 'south' (str) was given; allowed is a sequence"),
        ({"faces": {"name": "south"}}, "faces: {'name': 'south'} (dict) was given; allowed is a sequence"),
        ({"faces": [COUNTS["faces"][0], Site]}, "faces: <class"),
        ({"faces": [FaceCount(name="south", module_count="8")]}, "faces[0].module_count: '8' (str) was given"),  # type: ignore[arg-type]
        ({"faces": [{"name": "south", "module_count": "8"}]}, "faces[0].module_count: '8' (str) was given"),
        ({"faces": [{"name": None, "module_count": 8}]}, "faces[0].name: None was given; allowed is a text"),
        ({"faces": [{"unknown": Site}]}, "faces: <class"),
        ({"price_book": {"tax_percent": True}}, "price_book.tax_percent: True (bool) was given; allowed is a decimal"),
    ],
)
def test_a_wrong_type_is_named_before_anything_is_sent(changes: dict[str, Any], text: str) -> None:
    client, recorder = recording()
    with pytest.raises(TypeError) as caught:
        client.list_materials(**(COUNTS | changes))
    assert text in str(caught.value)
    assert len(str(caught.value)) < 300
    assert recorder.sent == []


@pytest.mark.parametrize(
    "value",
    [
        *[float("nan"), float("inf"), np.float64("-inf"), np.float32("nan")],
        *[Decimal("NaN"), Decimal("sNaN"), Decimal("-Infinity"), Fraction(10**999, 3)],
    ],
    ids=lambda value: f"{type(value).__name__} {str(value)[:9]}",
)
def test_a_number_that_json_cannot_hold_is_refused(value: Any) -> None:
    with pytest.raises(ValueError, match=r"^unit_mass_kg: .* allowed is a finite number"):
        bill_sent(unit_mass_kg=value)


def test_a_decimal_that_is_not_finite_is_refused() -> None:
    with pytest.raises(ValueError, match="cost: NaN was given; allowed is a finite number"):
        bill_sent(price_book={"items": [PriceItem(part_number="A", cost=Decimal("NaN"))]})


@pytest.mark.parametrize(
    ("values", "kind", "text"),
    [
        ([0.0] * 5 + ["3"], TypeError, r"ghi_w_m2\[5\]: '3' \(str\)"),
        ([0.0, True], TypeError, r"ghi_w_m2\[1\]: True \(bool\)"),
        ([0.0, None], TypeError, r"ghi_w_m2\[1\]: None"),
        ([0.0, float("nan")], ValueError, r"ghi_w_m2\[1\]: nan"),
        ([0.0, Decimal("NaN")], ValueError, r"ghi_w_m2\[1\]: NaN"),
        (np.array([True, False]), TypeError, r"ghi_w_m2\[0\]: np.True_"),
        (np.zeros((3, 2)), TypeError, r"ghi_w_m2\[0\]: .*ndarray"),
        (np.array(["1", "2"]), TypeError, r"ghi_w_m2\[0\]"),
        (b"123", TypeError, r"ghi_w_m2: .*\(bytes\)"),
        ((value for value in (1.0, 2.0)), TypeError, r"weather: .*\(generator\)"),
    ],
    ids=lambda value: value if isinstance(value, str) else type(value).__name__,
)
def test_a_wrong_value_in_an_array_is_named(values: Any, kind: type[Exception], text: str) -> None:
    with pytest.raises(kind, match=text):
        weather_sent(HourlyWeather(**(YEAR | {"ghi_w_m2": values})))


@pytest.mark.parametrize(
    "value", [3, 3.5, np.float32(3.5), np.int16(3), np.array(3.5), Fraction(7, 2), Decimal("3.5")], ids=repr
)
def test_any_real_number_is_a_number(value: Any) -> None:
    alone, in_array = (
        bill_sent(unit_mass_kg=value)["unit_mass_kg"],
        weather_sent(YEAR | {"kind": "hourly", "ghi_w_m2": [value]}),
    )
    assert (alone, in_array["ghi_w_m2"]) == (value, [value])


@pytest.mark.parametrize(
    ("changes", "sent"),
    [
        ({"phase_count": np.int64(3)}, 3),
        ({"backup": {"wanted": np.True_}}, {"wanted": True}),
        ({"backup": {"unknown": np.float32(0.5), "more": [np.True_]}}, {"unknown": 0.5, "more": [True]}),
        ({"region": np.str_("south")}, "south"),
        ({"region": Text.SOUTH}, "south"),
        ({"unit_mass_kg": 10**400}, 10**400),
        ({"price_book": {"tax_percent": Decimal("1.2E+2")}}, {"tax_percent": "120"}),
        ({"price_book": {"tax_percent": Decimal("0.10")}}, {"tax_percent": "0.10"}),
        ({"price_book": {"unknown": Decimal("0.10")}}, {"unknown": "0.10"}),
        ({"trunk_feed": "both"}, "both"),
        ({"faces": [{"bend": HORIZON, "gone": None}]}, [{"bend": {"azimuth_deg": 90, "elevation_deg": 12.5}}]),
        ({"faces": [{"colour": ["red", {"shade": None, "depth": 1.5}]}]}, [{"colour": ["red", {"depth": 1.5}]}]),
    ],
)
def test_scalars_and_what_this_version_does_not_know_are_sent_as_json(changes: dict[str, Any], sent: object) -> None:
    (name,) = changes
    assert bill_sent(**changes) == {**bill_sent(), name: sent}


def test_weather_of_a_kind_that_this_version_does_not_know_is_sent() -> None:
    assert weather_sent({"kind": "years_to_come", "values": (1, 2)}) == {"kind": "years_to_come", "values": [1, 2]}
    assert weather_sent(YEAR | {"kind": "hourly", "ghi_w_m2": [1.0, 10**400]})["ghi_w_m2"] == [1.0, 10**400]
    with pytest.raises(TypeError, match="text: 3"):
        weather_sent({"kind": "file", "file_format": "epw", "text": 3})
    with pytest.raises(TypeError, match=r"weather: 'sunny' \(str\) was given; allowed is a mapping or a model"):
        weather_sent("sunny")


def test_fields_that_are_left_out_are_not_sent() -> None:
    given: dict[str, Any] = {
        "name": "Unit",
        "ac_power_w": 300,
        "dc_voltage_max_v": 60,
        "dc_operating_voltage_min_v": 16,
        "dc_operating_voltage_max_v": 58,
        "dc_start_voltage_v": 22,
        "dc_current_max_a": 12.5,
        "dc_short_circuit_current_max_a": 20,
        "mass_kg": 1,
    }
    client, recorder = recording(sample(OPERATIONS["compute_clipping"].answer))
    client.compute_clipping(**(CLIPPING | {"microinverters": [Microinverter(**given)]}))
    assert recorder.sent[0].body["microinverters"] == [given]


@pytest.mark.parametrize(
    ("pointer", "value", "text"),
    [
        ("/unit_count", "8", "Expected `int`, got `str` - at `$.unit_count`"),
        ("/unit_count", ..., "Object missing required field `unit_count`"),
        ("/lines", {}, "Expected `array`, got `object` - at `$.lines`"),
        ("/lines/1", 3, "Expected `object`, got `int` - at `$.lines[1]`"),
        ("/lines/1/role", 1, "Expected `str`, got `int` - at `$.lines[1].role`"),
        ("/lines/1/role", ..., "Object missing required field `role` - at `$.lines[1]`"),
        *(("/prices/lines/0/net", value, "at `$.prices.lines[0].net`") for value in NO_DECIMALS),
    ],
)
def test_a_mismatch_names_its_place(pointer: str, value: object, text: str) -> None:
    answer = inner = json.loads(json.dumps(BILL))
    *steps, last = (int(step) if step.isdigit() else step for step in pointer.split("/")[1:])
    for step in steps:
        inner = inner[step]
    inner[last] = value
    if value is ...:
        del inner[last]
    with pytest.raises(BadAnswer) as caught:
        recording(answer)[0].list_materials(**COUNTS)
    assert "the answer is not what the contract says: " in str(caught.value)
    assert text in str(caught.value)


def test_fields_that_are_new_are_ignored() -> None:
    new, today = recording(BILL | {"new": {}})[0], recording(BILL)[0]
    assert new.list_materials(**COUNTS) == today.list_materials(**COUNTS)


@pytest.mark.parametrize("operation", OPERATIONS.values(), ids=OPERATIONS)
@settings(max_examples=settings().max_examples // 2)
@given(
    seed=st.integers(0, 10**9), value=st.sampled_from([None, True, 3, 1e999, -0.5, "text", [], [3], {}, {"a": 1}, 1 << 2000])
)
def test_any_change_of_an_answer_is_read_or_refused(operation: Operation, seed: int, value: object) -> None:
    """Whatever stands anywhere in an answer, reading it ends in a result or in one kind of error."""
    answer = sample(operation.answer)
    container, key = random.Random(seed).choice(list(_places(answer)))
    container[key] = value
    kind = CALLS[operation.name].result
    fault, result = "", None
    try:
        result = decode(json.dumps(answer).encode(), kind)
    except msgspec.DecodeError as error:
        fault = str(error)
    assert isinstance(result, kind) or fault


def _places(value: Any) -> Iterator[tuple[Any, Any]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in inner:
        yield value, key
        yield from _places(item)
