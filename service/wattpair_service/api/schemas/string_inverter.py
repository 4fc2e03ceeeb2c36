"""A string inverter on offer, and its comparison with microinverters in a result."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, get_args

from marshmallow import ValidationError, fields, post_load, validates_schema

from wattpair_service.api.operations.sizing import CheckSchema
from wattpair_service.api.schemas.base import InputSchema, OutputSchema
from wattpair_service.api.schemas.equipment import EfficiencyPointSchema, conversion_of
from wattpair_service.api.schemas.fields import Assumed, Listed, Nested, Number, Text, WholeNumber
from wattpair_service.api.schemas.results import RangeSchema, Written, many, number, one, text, whole, words
from wattpair_service.engineering.equipment import Microinverter, Tracker
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.inverter.electrical_checks import VERDICTS
from wattpair_service.engineering.sentences import COMMON_PRACTICE, fixed
from wattpair_service.engineering.strings.comparison import CAUSES
from wattpair_service.engineering.strings.offer import DcCable, Optimiser, StringInverterOffer, rated_ac_cable_share
from wattpair_service.engineering.strings.stringing import LENGTH_MOST

INVERTERS_MOST = 8
TRACKERS_MOST = 12
PRICE_MOST = 1e6
AC_CABLE_SHARE_MOST = 0.2
EFFICIENCIES = ("cec_efficiency_percent", "european_efficiency_percent", "efficiency_points")


def _price(description: str) -> Number:
    return Number(description, at_least=0, at_most=PRICE_MOST, required=False)


@dataclass(frozen=True, slots=True)
class RatedInverter:
    """An inverter as a unit of the core, with its connection."""

    unit: Microinverter
    ac_voltage_v: float
    ac_phase_count: int


class StringInverterSchema(InputSchema):
    """A string inverter by its datasheet; its trackers are alike."""

    name = Text("Name used in the result", longest=100)
    ac_power_w = Number("Continuous AC power", unit="W", at_least=300, at_most=100_000)
    ac_voltage_v = Number(
        "Nominal AC voltage, from conductor to neutral where it feeds three phases",
        unit="V",
        at_least=100,
        at_most=480,
        assumed=Assumed(230.0, COMMON_PRACTICE),
    )
    ac_phase_count = WholeNumber(
        "Phases that it feeds: 1 or 3", at_least=1, at_most=3, assumed=Assumed(1, fixed("source.single_phase_unit"))
    )
    dc_voltage_max_v = Number("Absolute maximum DC voltage", unit="V", at_least=60, at_most=1500)
    tracker_count = WholeNumber("Maximum power point trackers, each with one string", at_least=1, at_most=TRACKERS_MOST)
    tracker_voltage_min_v = Number("Lowest operating voltage of a tracker", unit="V", at_least=20, at_most=1400)
    tracker_voltage_max_v = Number("Highest operating voltage of a tracker", unit="V", at_least=30, at_most=1500)
    start_voltage_v = Number("DC voltage at which the inverter starts", unit="V", at_least=20, at_most=1400)
    tracker_current_max_a = Number("Highest operating current of a tracker", unit="A", at_least=1, at_most=100)
    tracker_short_circuit_current_max_a = Number("Short-circuit rating of a tracker", unit="A", at_least=1, at_most=150)
    cec_efficiency_percent = Number("Efficiency with CEC weights", unit="%", at_least=70, at_most=99.5, required=False)
    european_efficiency_percent = Number(
        "Efficiency with European weights", unit="%", at_least=70, at_most=99.5, required=False
    )
    efficiency_points = Listed(
        Nested(EfficiencyPointSchema, "One point"),
        "Measured efficiencies, at three or more load shares",
        fewest=3,
        most=100,
        required=False,
    )
    night_draw_w = Number(
        "Power drawn from the grid while the inverter delivers none",
        unit="W",
        at_least=0,
        at_most=50,
        assumed=Assumed(1.0, COMMON_PRACTICE),
    )
    shade_tracker = Text(
        "Which maximum the trackers hold of a partly shaded string: the highest (global), or the one at the highest voltage "
        "(local)",
        choices=get_args(Tracker),
        assumed=Assumed("global", fixed("source.usual_string_tracker")),
    )

    @validates_schema(skip_on_field_errors=True, pass_original=True)
    def consistent(self, data: dict[str, Any], original: object, **_: Any) -> None:
        """Voltages must be in order, phases one or three, and exactly one efficiency must be given."""
        errors: dict[str, list[str]] = {}
        for lower, upper in (
            ("tracker_voltage_min_v", "tracker_voltage_max_v"),
            ("tracker_voltage_max_v", "dc_voltage_max_v"),
            ("start_voltage_v", "tracker_voltage_max_v"),
        ):
            if data[lower] > data[upper]:
                errors.setdefault(lower, []).append(f"at most {upper}, which is {data[upper]:g} V")
        if data["ac_phase_count"] == 2:
            errors["ac_phase_count"] = ["1 or 3"]
        given = [name for name in EFFICIENCIES if isinstance(original, dict) and name in original]
        if not given:
            errors["cec_efficiency_percent"] = ["exactly one of " + ", ".join(EFFICIENCIES)]
        errors |= {name: [f"exactly one of {', '.join(EFFICIENCIES)}; {given[0]} is given too"] for name in given[1:]}
        if errors:
            raise ValidationError(errors)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> RatedInverter:
        """The inverter for the core: a unit whose inputs are the trackers."""
        try:
            conversion = conversion_of(data["ac_power_w"], sandia_curve=None, **{name: data[name] for name in EFFICIENCIES})
        except DatasheetError as error:
            raise ValidationError(str(error), error.fields[0]) from error
        unit = Microinverter(
            name=data["name"],
            ac_power_w=data["ac_power_w"],
            ac_peak_power_w=data["ac_power_w"],
            ac_current_a=None,
            ac_voltage_v=None,
            dc_voltage_max_v=data["dc_voltage_max_v"],
            dc_operating_voltage_min_v=data["tracker_voltage_min_v"],
            dc_operating_voltage_max_v=data["tracker_voltage_max_v"],
            dc_full_power_voltage_min_v=data["tracker_voltage_min_v"],
            dc_full_power_voltage_max_v=data["tracker_voltage_max_v"],
            dc_start_voltage_v=data["start_voltage_v"],
            dc_current_max_a=data["tracker_current_max_a"],
            dc_short_circuit_current_max_a=data["tracker_short_circuit_current_max_a"],
            input_count=data["tracker_count"],
            modules_per_input_max=LENGTH_MOST,
            conversion=conversion,
            start_power_w=conversion.own_consumption_w,
            night_draw_w=data["night_draw_w"],
            derating=None,
            mass_kg=0.0,
            tracker=data["shade_tracker"],
        )
        return RatedInverter(unit, data["ac_voltage_v"], data["ac_phase_count"])


class OptimiserSchema(InputSchema):
    """A DC converter at each module, which holds the module at its own maximum."""

    name = Text("Name used in the result", longest=100)
    efficiency_percent = Number("Weighted efficiency", unit="%", at_least=80, at_most=99.9)
    voltage_min_v = Number("Lowest operating voltage of its input", unit="V", at_least=5, at_most=200)
    voltage_max_v = Number(
        "Highest voltage of its input, which the module's open circuit must not exceed", unit="V", at_least=6, at_most=250
    )
    price = _price("Price of one optimiser")
    failure_percent_per_year = Number(
        "Share of the optimisers that fails each year; if left out, as for microinverters",
        unit="%",
        at_least=0,
        at_most=20,
        required=False,
    )
    warranty_years = WholeNumber(
        "Years in which a failed optimiser is replaced free", at_least=0, at_most=40, assumed=Assumed(25, COMMON_PRACTICE)
    )

    @validates_schema(skip_on_field_errors=True)
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """The window must have a width."""
        if data["voltage_min_v"] >= data["voltage_max_v"]:
            raise ValidationError(f"below voltage_max_v, which is {data['voltage_max_v']:g} V", "voltage_min_v")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Optimiser:
        """The optimiser for the core."""
        rate = data["failure_percent_per_year"]
        return Optimiser(
            name=data["name"],
            loss_share=1.0 - data["efficiency_percent"] / 100.0,
            voltage_min_v=data["voltage_min_v"],
            voltage_max_v=data["voltage_max_v"],
            price=data["price"],
            failure_share_per_year=None if rate is None else rate / 100.0,
            warranty_years=data["warranty_years"],
        )


@dataclass(frozen=True, slots=True)
class StringPart:
    """Modules of a string on one face, by their numbers from 1."""

    face: str
    modules: tuple[int, ...]


class StringPartSchema(InputSchema):
    """Modules of a string that lie on one face."""

    face = Text("Name of the face", longest=100)
    modules = Listed(
        WholeNumber("A module", at_least=1, at_most=1000),
        "Its modules in order, by their numbers from 1 in the order of the layout or of the places",
        most=LENGTH_MOST,
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> StringPart:
        """The part for the offer."""
        return StringPart(data["face"], tuple(data["modules"]))


@dataclass(frozen=True, slots=True)
class LoadedOffer:
    """An offer whose strings still name faces."""

    offer: StringInverterOffer
    strings: tuple[tuple[StringPart, ...], ...] | None

    @property
    def name(self) -> str:
        """The inverter's name."""
        return self.offer.name

    def on_faces(self, names: list[str]) -> StringInverterOffer:
        """The offer with its strings on these faces.

        Raises
        ------
        ValidationError
            A string names a face that the request does not have.
        """
        if self.strings is None:
            return self.offer
        strings = []
        for index, parts in enumerate(self.strings):
            for part_index, part in enumerate(parts):
                if part.face not in names:
                    message = "one of " + ", ".join(f'"{name}"' for name in names)
                    raise ValidationError({"strings": {index: {part_index: {"face": [message]}}}})
            strings.append(tuple((names.index(part.face), number - 1) for part in parts for number in part.modules))
        return replace(self.offer, strings=tuple(strings))


class StringInverterOfferSchema(InputSchema):
    """A string inverter on offer."""

    inverter = Nested(StringInverterSchema, "The string inverter")
    price = _price("Price of the inverter; without it energy alone is compared")
    replacement_price = _price("Price of the inverter that replaces it, in today's money; default: its price")
    warranty_years = WholeNumber(
        "Years in which a failed inverter is replaced free of charge, labour aside",
        at_least=0,
        at_most=40,
        assumed=Assumed(10, COMMON_PRACTICE),
    )
    expected_life_years = Number(
        "Years after which the inverter is replaced", at_least=1, at_most=50, assumed=Assumed(13.0, COMMON_PRACTICE)
    )
    balance_of_plant = _price(
        "Price of all other parts of the system with it; counted where the microinverter's balance of plant is known too"
    )
    optimiser = Nested(OptimiserSchema, "An optimiser at each module; none if left out", required=False)
    dc_cable_length_m = Number(
        "DC cable from the roof to the inverter, one way",
        unit="m",
        at_least=0,
        at_most=300,
        assumed=Assumed(15.0, COMMON_PRACTICE),
    )
    dc_cable_area_mm2 = Number(
        "Cross-section of its copper conductors", unit="mm2", at_least=1.5, at_most=35, assumed=Assumed(4.0, COMMON_PRACTICE)
    )
    ac_cable_length_m = Number(
        "AC cable from the inverter to the board", unit="m", at_least=0, at_most=200, assumed=Assumed(5.0, COMMON_PRACTICE)
    )
    ac_cable_area_mm2 = Number(
        "Cross-section of its copper conductors", unit="mm2", at_least=1, at_most=95, assumed=Assumed(6.0, COMMON_PRACTICE)
    )
    strings = Listed(
        Listed(Nested(StringPartSchema, "Modules on one face"), "One string, face by face", most=4),
        "Modules of each string, the first on the first tracker; default: the longest safe strings of each face",
        most=TRACKERS_MOST,
        required=False,
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> LoadedOffer:
        """The offer, whose faces are still to be found."""
        strings = None if data["strings"] is None else tuple(tuple(parts) for parts in data["strings"])
        names = (
            "inverter",
            "price",
            "replacement_price",
            "warranty_years",
            "expected_life_years",
            "balance_of_plant",
            "optimiser",
        )
        cable = DcCable(data["dc_cable_length_m"], data["dc_cable_area_mm2"])
        inverter: RatedInverter = data["inverter"]
        ac_cable_share = rated_ac_cable_share(
            inverter.unit.ac_power_w,
            length_m=data["ac_cable_length_m"],
            area_mm2=data["ac_cable_area_mm2"],
            voltage_v=inverter.ac_voltage_v,
            phase_count=inverter.ac_phase_count,
        )
        if ac_cable_share > AC_CABLE_SHARE_MOST:
            most = f"at most {100.0 * AC_CABLE_SHARE_MOST:g} % of the rated power"
            raise ValidationError(
                f"a cable that takes {most}, not {100.0 * ac_cable_share:.0f} %: it is shorter or thicker", "ac_cable_length_m"
            )
        own = {name: data[name] for name in names} | {"inverter": inverter.unit}
        return LoadedOffer(StringInverterOffer(**own, cable=cable, rated_ac_cable_share=ac_cable_share, strings=None), strings)


class ModuleOnFaceSchema(OutputSchema):
    """One module of a string."""

    face_number = whole("Number of its face in the request, from 0")
    module_number = whole("Its number on the face, from 1")


class CheckedStringSchema(OutputSchema):
    """One string."""

    tracker = whole("Its tracker, from 1")
    on_faces = many(ModuleOnFaceSchema, "Its modules in order")
    verdict = text("Worst verdict of its electrical checks", VERDICTS)
    reasons = many(CheckSchema, "The checks that are not ok")


class CauseKwhSchema(OutputSchema):
    """One cause of the difference in energy, in the first year."""

    cause = text("The cause", CAUSES)
    microinverters_kwh = number("What the microinverters lose by it", "kWh")
    string_inverter_kwh = number("What the string inverter loses by it", "kWh")
    difference_kwh = number("How much more the microinverters yield by it", "kWh")


class TurningPointsSchema(OutputSchema):
    """What would make both worth the same, each by itself; null where no value does."""

    extra_price = number(
        "How much more the string inverter may cost, later ones too where `replacement_price` is left out; negative: less",
        nullable=True,
    )
    life_years = number("Life of the string inverter from which on the microinverters no longer lead", "a", nullable=True)
    shade_factor = number("Factor on what shade takes more from the strings", nullable=True)


class MoneyDifferenceSchema(OutputSchema):
    """Present values over the horizon, of the microinverters less those of the string inverter."""

    extra_cost = number("Cost")
    extra_value = number("Value of the energy")
    net_gain = number("Value less cost: positive where the microinverters are worth more")
    balance_of_plant_counts = fields.Boolean(
        required=True, metadata={"description": "Whether all other parts of both systems are in the cost"}
    )
    turning = one(TurningPointsSchema, "What would make both worth the same")


class StringComparisonSchema(OutputSchema):
    """The recommended pairing against the string inverter, on the same roof by the same models."""

    module = text("Name of the module")
    microinverter = text("Name of the microinverter")
    microinverters_kwh = number("Energy at the meter in the first year, failures included", "kWh")
    string_inverter_kwh = number("The same with the string inverter", "kWh")
    energy_share = one(
        RangeSchema, "Energy that the microinverters yield more, as a share of the string inverter's; negative where less"
    )
    causes = many(CauseKwhSchema, "The difference taken apart; the causes add up to it")
    money = fields.Nested(
        MoneyDifferenceSchema,
        required=True,
        allow_none=True,
        metadata={"description": "Difference in money; null where a price or the tariff is missing"},
    )
    better = text("Which is worth more, or yields more where money is null", ("microinverters", "string_inverter"))
    replaced_in_years = fields.List(
        fields.Integer(), required=True, metadata={"description": "Years in which the string inverter is replaced"}
    )
    sentence = words("The same in a sentence")


class StringCandidateSchema(OutputSchema):
    """One string inverter."""

    name = text("Name of the string inverter")
    verdict = fields.String(
        required=True, attribute="stringing.verdict", metadata={"description": "Verdict of its strings: ok, caution or fail"}
    )
    obstacle = Written(
        required=True,
        allow_none=True,
        attribute="stringing.obstacle",
        metadata={"description": "Why it must not be built; null where it can"},
    )
    shortest_string = fields.Integer(
        required=True,
        allow_none=True,
        attribute="stringing.lengths.shortest",
        metadata={"description": "Fewest modules in series that pass every check; null where none do"},
    )
    longest_string = fields.Integer(
        required=True,
        allow_none=True,
        attribute="stringing.lengths.longest",
        metadata={"description": "Most modules in series that pass every check; null where none do"},
    )
    strings = fields.List(
        fields.Nested(CheckedStringSchema),
        required=True,
        attribute="stringing.strings",
        metadata={"description": "Its strings; empty where none can be proposed"},
    )
    comparison = fields.Nested(
        StringComparisonSchema,
        required=True,
        allow_none=True,
        metadata={"description": "Against the recommended pairing; null where it must not be built"},
    )
    to_order = fields.List(
        Written(), required=True, metadata={"description": "What has to be ordered and checked for the string inverter"}
    )
    to_order_for_units = fields.List(
        Written(), required=True, metadata={"description": "What has to be ordered and checked for the microinverters"}
    )
