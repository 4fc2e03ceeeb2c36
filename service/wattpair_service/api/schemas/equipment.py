"""Module and microinverter as a request describes them, by their datasheets."""

from __future__ import annotations

from typing import Any, get_args

from marshmallow import ValidationError, post_load, validates_schema

from wattpair_service.api.schemas.base import InputSchema
from wattpair_service.api.schemas.fields import Assumed, Flag, Listed, Nested, Number, Text, WholeNumber
from wattpair_service.engineering.equipment import Cells, Microinverter, Module, ThermalDerating, Tracker
from wattpair_service.engineering.errors import DatasheetError
from wattpair_service.engineering.inverter.conversion import (
    CEC_WEIGHTS,
    EUROPEAN_WEIGHTS,
    Conversion,
    EfficiencyPoint,
    SandiaCurve,
    from_points,
    from_weighted_efficiency,
    require_rising,
)
from wattpair_service.engineering.sentences import COMMON_PRACTICE, fixed

POWER_TOLERANCE_SHARE = 0.03
SANDIA_RATING_RATIO = 1.25


class ModuleSchema(InputSchema):
    """A PV module by its datasheet at standard test conditions."""

    name = Text("Name used in the result", longest=100)
    power_w = Number("Rated power", unit="W", at_least=20, at_most=1000)
    voltage_oc_v = Number("Open-circuit voltage", unit="V", at_least=5, at_most=200)
    voltage_mp_v = Number("Voltage at maximum power", unit="V", at_least=4, at_most=180)
    current_sc_a = Number("Short-circuit current", unit="A", at_least=0.5, at_most=40)
    current_mp_a = Number("Current at maximum power", unit="A", at_least=0.4, at_most=38)
    temp_coefficient_voc_percent_per_k = Number(
        "Temperature coefficient of the open-circuit voltage, negative, in percent: -0.25 where a datasheet prints -0.25 %/K",
        unit="%/K",
        at_least=-1,
        at_most=-0.1,
    )
    temp_coefficient_isc_percent_per_k = Number(
        "Temperature coefficient of the short-circuit current, in percent", unit="%/K", at_least=-0.1, at_most=0.3
    )
    temp_coefficient_pmp_percent_per_k = Number(
        "Temperature coefficient of the maximum power, negative, in percent", unit="%/K", at_least=-1, at_most=-0.1
    )
    length_m = Number("Length of the longer side", unit="m", at_least=0.2, at_most=3)
    width_m = Number("Length of the shorter side", unit="m", at_least=0.2, at_most=2)
    mass_kg = Number("Mass", unit="kg", at_least=0.5, at_most=80)
    bifaciality = Number(
        "Power from the back over that from the front at the same irradiance, 0 to 1; give it for every bifacial module: "
        "irradiance on the back adds current",
        at_least=0,
        at_most=1,
        assumed=Assumed(0.0, fixed("source.not_bifacial")),
    )
    series_fuse_rating_a = Number(
        "Largest fuse in series with the module, for modules in parallel", unit="A", at_least=1, at_most=100, required=False
    )
    half_cut_cells = Flag(
        "Whether the cells are cut in halves, and the two halves of the module are in parallel; counts under shade",
        assumed=Assumed(True, fixed("source.usual_module")),
    )
    bypass_group_count = WholeNumber(
        "Bypass diodes, each across a group of cells; counts under shade",
        at_least=1,
        at_most=6,
        assumed=Assumed(3, fixed("source.usual_module")),
    )

    @validates_schema(skip_on_field_errors=False)
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """Datasheet figures must agree with each other."""
        errors: dict[str, list[str]] = {}
        oc, mp, sc, imp, power = (
            data.get(key) for key in ("voltage_oc_v", "voltage_mp_v", "current_sc_a", "current_mp_a", "power_w")
        )
        if oc is not None and mp is not None and mp >= oc:
            errors["voltage_mp_v"] = [f"a voltage below voltage_oc_v, which is {oc:g} V"]
        if sc is not None and imp is not None and imp >= sc:
            errors["current_mp_a"] = [f"a current below current_sc_a, which is {sc:g} A"]
        if mp and imp and power and not errors and abs(mp * imp / power - 1.0) > POWER_TOLERANCE_SHARE:
            errors["power_w"] = [f"within {POWER_TOLERANCE_SHARE:.0%} of voltage_mp_v times current_mp_a, {mp * imp:.1f} W"]
        length, width = data.get("length_m"), data.get("width_m")
        if length is not None and width is not None and width > length:
            errors["width_m"] = [f"the shorter side: at most length_m, which is {length:g} m"]
        fuse = data.get("series_fuse_rating_a")
        if fuse is not None and sc is not None and fuse < sc:
            errors["series_fuse_rating_a"] = [f"at least current_sc_a, which is {sc:g} A"]
        if errors:
            raise ValidationError(errors)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Module:
        """The module for the core."""
        cells = Cells(data.pop("bypass_group_count"), data.pop("half_cut_cells"))
        return Module(**data, cells=cells)


class EfficiencyPointSchema(InputSchema):
    """One measured efficiency."""

    load_share = Number("AC output as a share of the rated AC power", at_least=0.02, at_most=1.2)
    efficiency_percent = Number("Conversion efficiency", unit="%", at_least=40, below=100)
    dc_voltage_v = Number(
        "DC voltage of the measurement; give it for every point or for none", unit="V", above=0, at_most=500, required=False
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> EfficiencyPoint:
        """The point for the core."""
        return EfficiencyPoint(**data)


class SandiaCurveSchema(InputSchema):
    """Coefficients of the Sandia inverter model (SAND2007-5036), as equipment lists publish them."""

    ac_power_w_ref = Number("Rated AC power, Paco", unit="W", above=0, at_most=10000)
    dc_power_w_ref = Number("DC power at rated AC power, Pdco", unit="W", above=0, at_most=12000)
    dc_voltage_v_ref = Number("DC voltage of the reference point, Vdco", unit="V", above=0, at_most=1000)
    start_power_w = Number("DC power at which conversion starts, Pso", unit="W", above=0, at_most=100)
    c0_per_w = Number("Curvature, C0", unit="1/W", at_least=-0.01, at_most=0.01)
    c1_per_v = Number("Voltage dependence of Pdco, C1", unit="1/V", at_least=-0.1, at_most=0.1)
    c2_per_v = Number("Voltage dependence of Pso, C2", unit="1/V", at_least=-1, at_most=1)
    c3_per_v = Number("Voltage dependence of C0, C3", unit="1/V", at_least=-2, at_most=2)

    @validates_schema(skip_on_field_errors=False)
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """DC power must exceed AC power."""
        ac, dc = data.get("ac_power_w_ref"), data.get("dc_power_w_ref")
        if ac is not None and dc is not None and dc <= ac:
            raise ValidationError(f"above ac_power_w_ref, which is {ac:g} W", "dc_power_w_ref")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> SandiaCurve:
        """The curve for the core."""
        return SandiaCurve(**data)


class DeratingSchema(InputSchema):
    """Thermal derating of the AC limit."""

    start_temp_c = Number("Air temperature at the unit above which derating starts", unit="degC", at_least=0, at_most=100)
    percent_per_k = Number("Reduction of the AC limit for each kelvin above start_temp_c", unit="%/K", above=0, at_most=100)
    shutdown_temp_c = Number("Air temperature at the unit above which it shuts down", unit="degC", at_least=0, at_most=120)

    @validates_schema(skip_on_field_errors=False)
    def consistent(self, data: dict[str, Any], **_: Any) -> None:
        """Shutdown comes after the start of derating."""
        start, end = data.get("start_temp_c"), data.get("shutdown_temp_c")
        if start is not None and end is not None and end < start:
            raise ValidationError(f"at least start_temp_c, which is {start:g} degC", "shutdown_temp_c")

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> ThermalDerating:
        """The derating for the core."""
        return ThermalDerating(**data)


AC_CURRENT_LEAST_A = 0.1
"""Just below the lowest allowed power over the highest allowed voltage."""
EFFICIENCY_FIELDS = ("cec_efficiency_percent", "european_efficiency_percent", "efficiency_points", "sandia_curve")
_NO_START_POWER = fixed("source.start_of_curve")


class MicroinverterSchema(InputSchema):
    """A microinverter by its datasheet. Give exactly one of the four descriptions of its efficiency."""

    name = Text("Name used in the result; unique among the candidates", longest=100)
    ac_power_w = Number("Rated continuous AC power of the whole unit", unit="W", at_least=50, at_most=5000)
    ac_peak_power_w = Number(
        "AC power of the whole unit for some minutes, if its maker states one: the AC limit during irradiance surges between "
        "clouds",
        unit="W",
        at_least=50,
        at_most=6000,
        assumed=Assumed(None, fixed("source.as_ac_power")),
    )
    ac_voltage_v = Number(
        "Nominal AC voltage", unit="V", at_least=100, at_most=480, assumed=Assumed(None, fixed("source.circuits_voltage"))
    )
    ac_phase_count = WholeNumber(
        "Phases that the unit feeds: 1 or 3", at_least=1, at_most=3, assumed=Assumed(1, fixed("source.single_phase_unit"))
    )
    ac_current_a = Number(
        "Rated AC current, in each of its phases",
        unit="A",
        at_least=AC_CURRENT_LEAST_A,
        at_most=30,
        assumed=Assumed(None, fixed("source.power_over_voltage")),
    )
    dc_voltage_max_v = Number("Absolute maximum DC voltage of an input", unit="V", at_least=10, at_most=500)
    dc_operating_voltage_min_v = Number("Lowest operating voltage", unit="V", at_least=5, at_most=400)
    dc_operating_voltage_max_v = Number("Highest operating voltage", unit="V", at_least=6, at_most=500)
    dc_full_power_voltage_min_v = Number(
        "Lowest voltage of the full-power window",
        unit="V",
        at_least=5,
        at_most=400,
        assumed=Assumed(None, fixed("source.as_operating_voltage_min")),
    )
    dc_full_power_voltage_max_v = Number(
        "Highest voltage of the full-power window",
        unit="V",
        at_least=6,
        at_most=500,
        assumed=Assumed(None, fixed("source.as_operating_voltage_max")),
    )
    dc_start_voltage_v = Number("DC voltage at which the unit starts", unit="V", at_least=5, at_most=400)
    dc_current_max_a = Number("Highest operating current of an input", unit="A", at_least=1, at_most=60)
    dc_short_circuit_current_max_a = Number("Short-circuit rating of an input", unit="A", at_least=1, at_most=100)
    input_count = WholeNumber(
        "Inputs, each with its own maximum power point tracking",
        at_least=1,
        at_most=8,
        assumed=Assumed(1, fixed("source.one_module_unit")),
    )
    modules_per_input_max = WholeNumber(
        "Most modules on an input, in series or in parallel, as its maker allows",
        at_least=1,
        at_most=4,
        assumed=Assumed(1, fixed("source.one_module_unit")),
    )
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
    sandia_curve = Nested(SandiaCurveSchema, "Coefficients of the Sandia model", required=False)
    start_power_w = Number(
        "DC power at which the unit starts", unit="W", at_least=0, at_most=100, assumed=Assumed(None, _NO_START_POWER)
    )
    shade_tracker = Text(
        "Which maximum the tracker holds of a partly shaded module: the highest (global), or the one at the highest voltage "
        "(local)",
        choices=get_args(Tracker),
        assumed=Assumed("global", fixed("source.usual_tracker")),
    )
    night_draw_w = Number(
        "Power that the unit draws from the grid while it delivers none",
        unit="W",
        at_least=0,
        at_most=10,
        assumed=Assumed(0.05, COMMON_PRACTICE),
    )
    derating = Nested(DeratingSchema, "Thermal derating of the AC limit; none is modelled if left out", required=False)
    mass_kg = Number("Mass", unit="kg", at_least=0.1, at_most=50)

    @validates_schema(skip_on_field_errors=False, pass_original=True)
    def consistent(self, data: dict[str, Any], original: object, **_: Any) -> None:
        """Voltage windows must lie inside each other, and exactly one efficiency must be given."""
        if not isinstance(original, dict):
            return  # refused elsewhere, as it is no object
        errors: dict[str, list[str]] = {}
        ordered = (
            ("dc_operating_voltage_min_v", "dc_operating_voltage_max_v"),
            ("dc_operating_voltage_max_v", "dc_voltage_max_v"),
            ("dc_operating_voltage_min_v", "dc_full_power_voltage_min_v"),
            ("dc_full_power_voltage_min_v", "dc_full_power_voltage_max_v"),
            ("dc_full_power_voltage_max_v", "dc_operating_voltage_max_v"),
            ("dc_start_voltage_v", "dc_operating_voltage_max_v"),
        )
        for lower, upper in ordered:
            low, high = data.get(lower), data.get(upper)
            if low is not None and high is not None and low > high:
                errors.setdefault(lower, []).append(f"at most {upper}, which is {high:g} V")
        power, peak = data.get("ac_power_w"), data.get("ac_peak_power_w")
        if power is not None and peak is not None and peak < power:
            errors["ac_peak_power_w"] = [f"at least ac_power_w, which is {power:g} W"]
        efficiencies = [name for name in EFFICIENCY_FIELDS if name in original]
        if not efficiencies:
            errors["cec_efficiency_percent"] = ["exactly one of " + ", ".join(EFFICIENCY_FIELDS)]
        for name in efficiencies[1:]:
            errors[name] = [f"exactly one of {', '.join(EFFICIENCY_FIELDS)}; {efficiencies[0]} is given too"]
        if errors:
            raise ValidationError(errors)

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> Microinverter:
        """The microinverter for the core."""
        descriptions, tracker = {name: data.pop(name) for name in EFFICIENCY_FIELDS}, data.pop("shade_tracker")
        try:
            conversion = conversion_of(data["ac_power_w"], **descriptions)
            if isinstance(conversion, SandiaCurve):
                require_rising(
                    conversion,
                    voltage_min_v=data["dc_operating_voltage_min_v"],
                    voltage_max_v=data["dc_operating_voltage_max_v"],
                )
        except DatasheetError as error:
            raise ValidationError(str(error), error.fields[0]) from error
        defaults = {
            "ac_peak_power_w": data["ac_power_w"],
            "dc_full_power_voltage_min_v": data["dc_operating_voltage_min_v"],
            "dc_full_power_voltage_max_v": data["dc_operating_voltage_max_v"],
            "start_power_w": conversion.own_consumption_w,
        }
        if isinstance(conversion, SandiaCurve):
            _require_same_rating(conversion, data["ac_power_w"])
        missing = {name: value for name, value in defaults.items() if data[name] is None}
        return Microinverter(**(data | missing), conversion=conversion, tracker=tracker)


def _require_same_rating(curve: SandiaCurve, ac_power_w: float) -> None:
    """The curve must be that of the whole unit, not of one input."""
    if not 1.0 / SANDIA_RATING_RATIO <= curve.ac_power_w_ref / ac_power_w <= SANDIA_RATING_RATIO:
        raise ValidationError(
            {"sandia_curve": {"ac_power_w_ref": [f"within a quarter of ac_power_w, {ac_power_w:g} W: the whole unit's"]}}
        )


def conversion_of(
    ac_power_w: float,
    *,
    cec_efficiency_percent: float | None,
    european_efficiency_percent: float | None,
    efficiency_points: list[EfficiencyPoint] | None,
    sandia_curve: SandiaCurve | None,
) -> Conversion:
    """The conversion of an inverter by the one description that is given."""
    if sandia_curve is not None:
        return sandia_curve
    if efficiency_points is not None:
        return from_points(ac_power_w=ac_power_w, points=efficiency_points)
    if cec_efficiency_percent is not None:
        return from_weighted_efficiency(ac_power_w=ac_power_w, efficiency_percent=cec_efficiency_percent, weights=CEC_WEIGHTS)
    assert european_efficiency_percent is not None, "the schema asks for one description"
    return from_weighted_efficiency(
        ac_power_w=ac_power_w, efficiency_percent=european_efficiency_percent, weights=EUROPEAN_WEIGHTS
    )
