"""Types are checked before anything is sent, and answers for everything that their classes promise."""

from __future__ import annotations

import random
from collections.abc import Iterator
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.sdk.contract import Operation, operations, sample
from tests.sdk.recorder import recording
from wattpair import Client, FaceCount, HorizonPoint, HourlyWeather, Method, Microinverter, PricedLine, PriceItem, Problem, Site
from wattpair.codec import Mismatch, decode, encode, hints_of

OPERATIONS = [operation for operation in operations() if hasattr(Client, operation.name)]
COUNTS: dict[str, Any] = {
    "faces": [FaceCount(name="south", module_count=8)],
    "unit_ac_current_a": 1.5,
    "module_mass_kg": 21.3,
    "unit_mass_kg": 1.1,
}
YEAR: dict[str, Any] = {
    "first_label": "2023-01-01T00:00",
    "utc_offset_h": 1,
    "interval_label": "start",
    "ghi_w_m2": [0.0] * 8760,
    "temp_air_c": [10.0] * 8760,
}


class Text(str, Enum):  # noqa: UP042 - its str() is not its text, unlike that of a StrEnum
    """A text with a name."""

    SOUTH = "south"


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"unit_ac_current_a": "1.5"}, "unit_ac_current_a: '1.5' (str) was given; allowed is a number"),
        ({"unit_ac_current_a": True}, "unit_ac_current_a: True (bool) was given; allowed is a number"),
        ({"unit_ac_current_a": None}, "unit_ac_current_a: None was given; allowed is a number"),
        ({"unit_ac_current_a": np.True_}, "unit_ac_current_a: np.True_ (bool) was given; allowed is a number"),
        ({"unit_ac_current_a": np.array([1.5])}, "unit_ac_current_a: array([1.5]) (ndarray) was given; allowed is a number"),
        ({"phase_count": np.bool_(True)}, "phase_count: np.True_ (bool) was given; allowed is a whole number"),
        ({"phase_count": True}, "phase_count: True (bool) was given; allowed is a whole number"),
        ({"phase_count": Decimal(1)}, "phase_count: Decimal('1') (Decimal) was given; allowed is a whole number"),
        ({"phase_count": 1.0}, "phase_count: 1.0 (float) was given; allowed is a whole number"),
        ({"region": 3}, "region: 3 (int) was given; allowed is a text"),
        ({"trunk_feed": 3}, 'trunk_feed: 3 (int) was given; allowed is one of "end", "centre"'),
        ({"faces": COUNTS["faces"][0]}, "was given; allowed is a sequence, each item FaceCount or a mapping"),
        ({"faces": "south"}, "faces: 'south' (str) was given; allowed is a sequence"),
        ({"faces": {"name": "south"}}, "faces: {'name': 'south'} (dict) was given; allowed is a sequence"),
        ({"faces": [COUNTS["faces"][0], Site]}, "faces[1]: <class"),
        ({"faces": [FaceCount(name="south", module_count="8")]}, "faces[0].module_count: '8' (str) was given"),  # type: ignore[arg-type]
        ({"faces": [{"name": "south", "module_count": "8"}]}, "faces[0].module_count: '8' (str) was given"),
        ({"faces": [{"name": None, "module_count": 8}]}, "faces[0].name: None was given; allowed is a text"),
        ({"faces": [{3: "south"}]}, "the key 3 (int) was given; allowed is a text"),
        ({"faces": [{"unknown": {1, 2}}]}, "faces[0].unknown: {1, 2} (set) was given"),
        ({"faces": [{"unknown": Site}]}, "faces[0].unknown: <class"),
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
        *[Decimal("NaN"), Decimal("sNaN"), Decimal("-Infinity"), Decimal("1E+999"), Fraction(10**999, 3)],
    ],
)
def test_a_number_that_json_cannot_hold_is_refused(value: Any) -> None:
    with pytest.raises(ValueError, match=r"^unit_mass_kg: .* allowed is a finite number"):
        recording()[0].list_materials(**(COUNTS | {"unit_mass_kg": value}))


@pytest.mark.parametrize(
    ("values", "kind", "text"),
    [
        ([0.0] * 5 + ["3"], TypeError, r"ghi_w_m2\[5\]: '3' \(str\)"),
        ([0.0, True], TypeError, r"ghi_w_m2\[1\]: True \(bool\)"),
        ([0.0, None], TypeError, r"ghi_w_m2\[1\]: None"),
        ([0.0, float("nan")], ValueError, r"ghi_w_m2\[1\]: nan"),
        ([0.0, Decimal("sNaN")], ValueError, r"ghi_w_m2\[1\]: sNaN"),
        (np.array([True, False]), TypeError, r"ghi_w_m2\[0\]: np.True_"),
        (np.zeros((3, 2)), TypeError, r"ghi_w_m2\[0\]: .*ndarray"),
        (np.array(["1", "2"]), TypeError, r"ghi_w_m2\[0\]"),
        ({1.0, 2.0}, TypeError, r"ghi_w_m2: .*\(set\)"),
        (b"123", TypeError, r"ghi_w_m2: .*\(bytes\)"),
        ((value for value in (1.0, 2.0)), TypeError, r"ghi_w_m2: .*\(generator\)"),
    ],
)
def test_a_wrong_value_in_an_array_is_named(values: Any, kind: type[Exception], text: str) -> None:
    with pytest.raises(kind, match=text):
        encode(HourlyWeather(**(YEAR | {"ghi_w_m2": values})), HourlyWeather)


@pytest.mark.parametrize("value", [3, 3.5, np.float32(3.5), np.int16(3), np.array(3.5), Fraction(7, 2), Decimal("3.5")])
def test_any_real_number_is_a_number(value: Any) -> None:
    for encoded in (encode(value, float), encode([value], hints_of(HourlyWeather)["ghi_w_m2"])[0]):  # type: ignore[index]
        assert encoded == value
        assert type(encoded) in (int, float)


def test_scalars_of_numpy_are_those_of_python() -> None:
    assert encode(np.int64(3), int) == 3
    assert encode(np.True_, bool) is True
    assert encode({"unknown": np.float32(0.5), "more": [np.True_]}, Any) == {"unknown": 0.5, "more": [True]}
    assert encode(np.str_("south"), str) == "south"


def test_whole_numbers_of_any_size_and_texts_with_names_are_sent_as_they_are() -> None:
    assert encode(10**400, float) == 10**400
    assert encode([1.0, 10**400], hints_of(HourlyWeather)["ghi_w_m2"]) == [1.0, 10**400]
    assert encode(Text.SOUTH, str) == "south"
    assert type(encode(Text.SOUTH, str)) is str


def test_what_this_version_does_not_know_is_sent_for_the_service_to_judge() -> None:
    client, recorder = recording({})
    face = {"name": "south", "module_count": 8, "colour": ["red", {"shade": None, "depth": 1.5}], "bend": HORIZON, "gone": None}
    with pytest.raises(Exception, match="the field is required"):
        client.list_materials(**(COUNTS | {"faces": [face], "trunk_feed": "both"}))
    sent = {"name": "south", "module_count": 8, "colour": ["red", {"depth": 1.5}], "bend": HORIZON_SENT}
    assert recorder.sent[0].body == {**COUNTS, "faces": [sent], "trunk_feed": "both"}


HORIZON = HorizonPoint(azimuth_deg=90, elevation_deg=12.5)
HORIZON_SENT = {"azimuth_deg": 90, "elevation_deg": 12.5}


def test_weather_of_a_kind_that_this_version_does_not_know_is_sent() -> None:
    hint = hints_of(Client.compute_clipping)["weather"]
    assert encode({"kind": "years_to_come", "values": (1, 2)}, hint) == {"kind": "years_to_come", "values": [1, 2]}
    with pytest.raises(TypeError, match="text: 3"):
        encode({"kind": "file", "file_format": "epw", "text": 3}, hint)
    with pytest.raises(TypeError, match=r"allowed is BuiltInClimate or .*WeatherFile or a mapping"):
        encode("sunny", hint)


def test_fields_that_are_left_out_are_not_sent() -> None:
    unit = Microinverter(
        name="Unit",
        ac_power_w=300,
        dc_voltage_max_v=60,
        dc_operating_voltage_min_v=16,
        dc_operating_voltage_max_v=58,
        dc_start_voltage_v=22,
        dc_current_max_a=12.5,
        dc_short_circuit_current_max_a=20,
        mass_kg=1,
    )
    encoded = encode(unit, Microinverter)
    assert isinstance(encoded, dict)
    assert len(encoded) == 9


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (3, "the whole answer is 3 (int), where the contract says an object"),
        ({"name": "a", "version": "1"}, "/source is None, where the contract says a value, since the field is required"),
        ({"name": "a", "version": 1, "source": "b"}, "/version is 1 (int), where the contract says a text"),
    ],
)
def test_a_mismatch_names_its_place(value: object, text: str) -> None:
    with pytest.raises(Mismatch) as caught:
        decode(value, Method)
    assert str(caught.value) == text


def test_a_mismatch_within_arrays_names_its_place() -> None:
    whole = sample({"$ref": "#/components/schemas/Problem"})
    whole["errors"] = [whole["errors"][0], {"pointer": "/a"}]
    with pytest.raises(Mismatch, match=r"^/errors/1/given is None"):
        decode(whole, Problem)


def test_fields_that_are_new_are_ignored() -> None:
    assert decode({"name": "a", "version": "1", "source": "b", "new": {}}, Method) == Method(name="a", version="1", source="b")


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.name)
@given(
    seed=st.integers(0, 10**9), value=st.sampled_from([None, True, 3, 1e999, -0.5, "text", [], [3], {}, {"a": 1}, 1 << 2000])
)
def test_any_change_of_an_answer_is_read_or_refused(operation: Operation, seed: int, value: object) -> None:
    """Whatever stands anywhere in an answer, reading it ends in a result or in one kind of error."""
    answer = sample(operation.answer)
    places = list(_places(answer))
    container, key = random.Random(seed).choice(places)
    container[key] = value
    kind = hints_of(getattr(Client, operation.name))["return"]
    fault = _fault(answer, kind)
    assert fault is None or f"/{key}" in fault


def _fault(answer: Any, kind: type) -> str | None:
    try:
        assert isinstance(decode(answer, kind), kind)
    except Mismatch as mismatch:
        return str(mismatch)
    return None


def _places(value: Any) -> Iterator[tuple[Any, Any]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in inner:
        yield value, key
        yield from _places(item)


def test_decimals_are_texts_without_exponents() -> None:
    assert encode(Decimal("1.2E+2"), Decimal) == "120"
    assert encode(Decimal("0.10"), hints_of(PriceItem)["cost"]) == "0.10"
    assert encode({"unknown": Decimal("0.10")}, Any) == {"unknown": "0.10"}
    with pytest.raises(ValueError, match="cost: NaN was given; allowed is a finite number"):
        encode({"part_number": "A", "cost": Decimal("NaN")}, PriceItem)
    with pytest.raises(TypeError, match=r"cost: 0.1 \(float\) was given; allowed is a decimal or a text"):
        encode({"part_number": "A", "cost": 0.1}, PriceItem)


@pytest.mark.parametrize("value", ["", "1,5", "NaN", "Infinity", 1.5, 3, True, {}])
def test_an_amount_that_is_no_decimal_is_refused(value: object) -> None:
    with pytest.raises(Mismatch, match=r"^/net is .* where the contract says a finite decimal as a text$"):
        decode({"part_number": None, "unit_price": "1.50", "net": value}, PricedLine)
