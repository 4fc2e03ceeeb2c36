"""Types are checked before anything is sent, and answers for everything that their classes promise."""

from __future__ import annotations

import json
import pydoc
import random
import subprocess
import sys
import types
from collections import OrderedDict
from collections.abc import Iterator
from datetime import date, time, timedelta
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Any
from uuid import UUID

import msgspec
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from tests.sdk.contract import Operation, operations, sample
from tests.sdk.recorder import recording
from wattpair import BadAnswer, Client, FaceCount, HorizonPoint, HourlyWeather, Microinverter, MonthlyTotals, PriceItem, Site
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
NO_DECIMALS: list[object] = ["", "1,5", "NaN", "Infinity", 1.5, 1, True, {}]
HORIZON = HorizonPoint(azimuth_deg=90, elevation_deg=12.5)
SENT_HORIZON = {"azimuth_deg": 90, "elevation_deg": 12.5}


class Text(str, Enum):  # noqa: UP042 - its str() is not its text, unlike that of a StrEnum
    SOUTH = "south"


class Plain(Enum):
    SOUTH = "south"


class OfText(str):
    pass


class OfInt(int):
    pass


class OwnFace(FaceCount, frozen=True, kw_only=True):
    pass


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
        ({"trunk_feed": 3}, 'trunk_feed: 3 (int) was given; allowed is one of "'),
        ({"faces": COUNTS["faces"][0]}, "(FaceCount) was given; allowed is a sequence"),
        ({"faces": "south"}, "faces: 'south' (str) was given; allowed is a sequence, each item FaceCount or a mapping"),
        ({"faces": {"name": "south"}}, "faces: {'name': 'south'} (dict) was given; allowed is a sequence"),
        ({"faces": [COUNTS["faces"][0], Site]}, "faces[1]: <class"),
        ({"faces": [FaceCount(name="south", module_count="8")]}, "faces[0].module_count: '8' (str) was given"),  # type: ignore[arg-type]
        ({"faces": [{"name": "south", "module_count": "8"}]}, "faces[0].module_count: '8' (str) was given"),
        ({"faces": [{"name": None, "module_count": 8}]}, "faces[0].name: None was given; allowed is a text"),
        ({"faces": [{"unknown": Site}]}, "faces[0].unknown: <class"),
        ({"price_book": {"tax_percent": True}}, "price_book.tax_percent: True (bool) was given; allowed is a decimal"),
        ({"price_book": {"tax_percent": 0.1}}, "tax_percent: 0.1 (float) was given; allowed is a decimal or a text"),
        ({"price_book": {"tax_percent": np.int64(5)}}, "tax_percent: np.int64(5) (int64) was given; allowed is a decimal"),
        ({"faces": [Site(latitude_deg=1, longitude_deg=2)]}, "(Site) was given; allowed is FaceCount or a mapping"),
        ({"faces": [[]]}, "faces[0]: [] (list) was given; allowed is FaceCount or a mapping"),
        ({"faces": [{1: 2, "name": "south"}]}, "a key of faces[0]: 1 (int) was given; allowed is a text"),
        ({"faces": [{None: 2}]}, "a key of faces[0]: None was given; allowed is a text"),
        ({"faces": {FaceCount: 2}.keys()}, "(dict_keys) was given; allowed is a sequence"),
        ({"faces": frozenset()}, "faces: frozenset() (frozenset) was given; allowed is a sequence"),
        ({"faces": [{"unknown": {1, 2}}]}, "faces[0].unknown: {1, 2} (set) was given; allowed is what JSON can hold"),
        ({"faces": [{"unknown": [b"a"]}]}, "faces[0].unknown[0]: b'a' (bytes) was given; allowed is what JSON can hold"),
        ({"faces": [{"unknown": np.ndarray}]}, "faces[0].unknown: <class 'numpy.ndarray'> (type) was given"),
        *(
            ({"region": value}, f"({type(value).__name__}) was given; allowed is a text")
            for value in (b"a", bytearray(b"a"), memoryview(b"a"), time(5), timedelta(1), UUID(int=5), pd.NaT, Decimal(5), str)
        ),
        *(
            ({"unit_mass_kg": value}, f"({type(value).__name__}) was given; allowed is a number")
            for value in (1j, pd.NA, pd.NaT, float, date(2026, 1, 1), Text.SOUTH, "5")
        ),
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
        (np.array([True, False]), TypeError, r"ghi_w_m2\[0\]: True \(bool\) was given; allowed is a number"),
        (np.zeros((3, 2)), TypeError, r"ghi_w_m2\[0\]: .*list"),
        (pd.Series([1, None], dtype="Int64"), TypeError, r"ghi_w_m2\[1\]: <NA>"),
        ({1.0, 2.0}, TypeError, r"ghi_w_m2: .*\(set\) was given; allowed is a sequence, each item a number"),
        (np.array(["1", "2"]), TypeError, r"ghi_w_m2\[0\]"),
        (b"123", TypeError, r"ghi_w_m2: .*\(bytes\)"),
        ((value for value in (1.0, 2.0)), TypeError, r"weather.ghi_w_m2: .*\(generator\)"),
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
        ({"region": Plain.SOUTH}, "south"),
        ({"region": OfText("south")}, "south"),
        ({"phase_count": OfInt(3)}, 3),
        ({"region": pd.Timestamp("2026-01-02 03:04")}, "2026-01-02T03:04:00"),
        ({"region": date(2026, 1, 2)}, "2026-01-02"),
        ({"faces": types.MappingProxyType({"a": OrderedDict(b=1)}).values()}, [{"b": 1}]),
        ({"faces": [OwnFace(name="south", module_count=8)]}, [{"name": "south", "module_count": 8}]),
        ({"backup": {"unknown": HORIZON, "more": [None, (1, 2)]}}, {"unknown": SENT_HORIZON, "more": [None, [1, 2]]}),
        ({"unit_mass_kg": 10**400}, 10**400),
        ({"price_book": {"tax_percent": Decimal("1.2E+2")}}, {"tax_percent": "120"}),
        ({"price_book": {"tax_percent": Decimal("0.10")}}, {"tax_percent": "0.10"}),
        ({"price_book": {"unknown": Decimal("0.10")}}, {"unknown": "0.10"}),
        ({"trunk_feed": "both"}, "both"),
        ({"faces": [{"bend": HORIZON, "gone": None}]}, [{"bend": SENT_HORIZON}]),
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
    with pytest.raises(TypeError, match=r"weather: 'sunny' \(str\) was given; allowed is BuiltInClimate or .* or a mapping"):
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
        ("/prices/net", "-Infinity", "Expected a finite decimal as a text, got '-Infinity' (str) - at `$.prices.net`"),
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


def test_a_word_that_the_contract_does_not_list_is_no_answer() -> None:
    answer = sample(OPERATIONS["size_pairings"].answer)
    answer["pairings"][0]["verdict"] = "passed?"
    with pytest.raises(BadAnswer, match=r"'passed\?' - at `\$\.pairings\[0\]\.verdict`"):
        recording(answer)[0].size_pairings(site={}, module={}, microinverters=[])


def test_a_decimal_is_a_number_where_one_is_asked_for_whatever_else_is_wrong() -> None:
    request = CALLS["describe_climate"].request
    sent = json.loads(request(site={"latitude_deg": Decimal("52.10"), "longitud_deg": Decimal("5.0")}).content or b"")
    assert sent == {"site": {"latitude_deg": 52.1, "longitud_deg": "5.0"}}
    weather = {"kind": "unknown", "utc_offset_h": Decimal("1.0")}
    sent = json.loads(request(site={"latitude_deg": Decimal(52)}, weather=weather).content or b"")
    assert sent == {"site": {"latitude_deg": 52.0}, "weather": {"kind": "unknown", "utc_offset_h": "1.0"}}


@pytest.mark.parametrize("face", [{"name": "a\ud800"}, {"a\ud800": 1}, {"unknown": ["a\ud800"]}])
def test_half_a_character_is_named(face: Any) -> None:
    with pytest.raises(ValueError, match=r"faces\[0\].*: 'a\\ud800' was given; allowed is a text"):
        bill_sent(faces=[face])


def test_what_is_missing_in_a_column_is_named_by_its_index() -> None:
    values = pd.Series([1.0, None, *[1.0] * 10], dtype="Float64")
    for weather in (MonthlyTotals(ghi_kwh_m2_by_month=values), {"kind": "monthly", "ghi_kwh_m2_by_month": values}):
        with pytest.raises(TypeError, match=r"^weather\.ghi_kwh_m2_by_month\[1\]: <NA> \(NAType\) was given; allowed is a num"):
            weather_sent(weather)


def test_an_argument_that_is_none_is_named_with_the_one_that_is_meant() -> None:
    for name, text in {"sight": "is site meant?", "xyz": "it takes site, weather, "}.items():
        with pytest.raises(TypeError, match=rf"describe_climate\(\): {name} is no argument of it; {text}"):
            CALLS["describe_climate"].request(**{name: 1})


def test_models_show_and_give_what_they_hold() -> None:
    site = Site(latitude_deg=np.float32(52.5), longitude_deg=np.array(5.0), elevation_m=np.int64(3))  # type: ignore[arg-type]
    assert repr(site).startswith("Site(latitude_deg=")
    assert site.to_dict() == {"latitude_deg": 52.5, "longitude_deg": 5.0, "elevation_m": 3}
    totals = MonthlyTotals(ghi_kwh_m2_by_month=np.ones(2), temp_air_c_by_month=pd.Series([1.0]))
    assert "<2 numbers>" in repr(totals)
    assert totals.to_dict() == {"kind": "monthly", "ghi_kwh_m2_by_month": [1.0, 1.0], "temp_air_c_by_month": [1.0]}
    assert decode(json.dumps(BILL).encode(), CALLS["list_materials"].result).to_dict() == BILL
    told = pydoc.plain(pydoc.render_doc(HourlyWeather))
    assert "interval_label: Literal['start', 'middle', 'end'], ghi_w_m2: collections.abc.Collection[float], " in told


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


FIRST_ANSWERS_AT_ONCE = """
import sys, threading
from importlib.resources import files
from wattpair import models
from wattpair.codec import decode
sys.setswitchinterval(1e-6)
content = (files("wattpair") / "testing" / "answers" / "compute_clipping.json").read_bytes()
barrier, read = threading.Barrier(8), []
def first():
    barrier.wait()
    read.append(decode(content, models.ClippingResult))
threads = [threading.Thread(target=first) for _ in range(8)]
for thread in threads: thread.start()
for thread in threads: thread.join()
assert read == [read[0]] * 8
"""


def test_the_first_answers_of_several_threads_are_read_at_once() -> None:
    # msgspec by itself crashes in most of such processes.
    for _ in range(4):
        ran = subprocess.run([sys.executable, "-c", FIRST_ANSWERS_AT_ONCE], capture_output=True, text=True, check=False)
        assert ran.returncode == 0, ran.stderr
