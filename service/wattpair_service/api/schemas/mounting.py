"""The mounting system and the trunk as their makers sell them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, get_args

from marshmallow import post_load

from wattpair_service.api.schemas.base import InputSchema
from wattpair_service.api.schemas.fields import Assumed, Flag, Listed, Number, Text, WholeNumber
from wattpair_service.engineering.materials.mounting import ATTACHMENTS, BondingJumpers, EarthLugs, MountingSystem
from wattpair_service.engineering.materials.trunk_system import TrunkSystem
from wattpair_service.engineering.sentences import COMMON_PRACTICE, fixed

INVENTED, BY_COVERING, BY_RAILS = (
    fixed(f"source.{each}") for each in ("invented_system", "invented_by_covering", "invented_by_rails")
)


def _length(description: str, assumed: Assumed, *, at_least: float = 0.0, at_most: float = 10.0) -> Number:
    return Number(description, unit="m", at_least=at_least, at_most=at_most, assumed=assumed)


def _count(description: str, most: int, assumed: Assumed) -> WholeNumber:
    return WholeNumber(description, at_least=0, at_most=most, assumed=assumed)


@dataclass(frozen=True, slots=True)
class RequestedMounting:
    """A mounting system, and the size of its bonding conductor where the request gives it."""

    system: MountingSystem
    bonding_conductor_size: str | None


class MountingSystemSchema(InputSchema):
    """Rails, attachments, clamps, bonding and clips, as the mounting system's maker sells them."""

    roof_covering = Text(
        "Roof covering, which decides the kind of attachment: "
        + "; ".join(f"{covering}: {attachment.kind}" for covering, attachment in ATTACHMENTS.items()),
        choices=tuple(ATTACHMENTS),
        assumed=Assumed("tiles", fixed("source.usual_pitched_roof")),
    )
    rails_per_row = _count("Rails under a row; 0 for a system without rails", 4, Assumed(2, COMMON_PRACTICE))
    rail_length_m = _length("Length of a rail as it is made", Assumed(3.3, INVENTED), at_least=0.5, at_most=12.0)
    rail_overhang_m = _length("Rail past the last module", Assumed(0.1, INVENTED), at_most=1.0)
    offcuts_reused = Flag(
        "Whether the rest of a rail may begin another run of the same face",
        assumed=Assumed(False, fixed("source.new_rails")),
    )
    column_gap_m = _length(
        "Gap between modules of a row, on faces without a layout", Assumed(0.02, COMMON_PRACTICE), at_most=2.0
    )
    row_gap_m = _length("Gap between rows, on faces without a layout", Assumed(0.02, COMMON_PRACTICE))
    attachment_spacing_max_m = _length(
        "Greatest spacing of attachments along the rail: where they need a rafter, a whole multiple of the rafters' spacing",
        Assumed(None, BY_COVERING),
        at_least=0.1,
    )
    rail_cantilever_max_m = _length("Greatest length of rail past its last attachment", Assumed(None, BY_COVERING), at_most=2.0)
    screws_per_attachment = _count("Screws for an attachment", 20, Assumed(None, BY_COVERING))
    flashings_per_attachment = _count("Flashings for an attachment", 4, Assumed(None, BY_COVERING))
    unit_fixings_per_unit = _count("Brackets or fixings of a microinverter", 8, Assumed(1, INVENTED))
    bonding_jumpers = Text(
        "Bonding clips or jumpers: one for each module, one from each further rail of a row to its first, or none where the "
        "clamps bond",
        choices=get_args(BondingJumpers),
        assumed=Assumed(None, BY_RAILS),
    )
    earth_lugs = Text(
        "Earthing lugs: one for each row, or for each part of a row without a gap; none where the array is not bonded",
        choices=get_args(EarthLugs),
        assumed=Assumed("segment", INVENTED),
    )
    bonding_conductor_size = Text(
        "Bonding conductor of the array", longest=20, assumed=Assumed(None, fixed("source.regions_rules"))
    )
    cable_clips_per_module = _count("Cable clips for a module", 50, Assumed(4, COMMON_PRACTICE))
    roof_entries_per_circuit = _count(
        "Entries through the roof for a circuit's home run", 4, Assumed(1, fixed("source.one_roof_entry"))
    )
    module_lead_length_m = _length(
        "Length of a module's own leads; modules farther from their unit need extension leads", Assumed(1.1, COMMON_PRACTICE)
    )
    frame_height_mm = Number(
        "Height of the module's frame, which clamps are made for", unit="mm", at_least=1, at_most=100, required=False
    )

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> RequestedMounting:
        """The mounting system for the core."""
        usual = ATTACHMENTS[data["roof_covering"]]
        names = {
            "attachment_spacing_max_m": "spacing_max_m",
            "rail_cantilever_max_m": "cantilever_max_m",
            "screws_per_attachment": "screws",
            "flashings_per_attachment": "flashings",
        }
        own = {inner: data.pop(name) for name, inner in names.items()}
        covering, size = data.pop("roof_covering"), data.pop("bonding_conductor_size")
        data["bonding_jumpers"] = data["bonding_jumpers"] or ("rail" if data["rails_per_row"] else "module")
        system = MountingSystem(
            covering=covering,
            attachment=replace(usual, **{name: value for name, value in own.items() if value is not None}),
            overhang_m=data.pop("rail_overhang_m"),
            **data,
        )
        return RequestedMounting(system, size)


def _spacings(orientation: str, made_m: tuple[float, ...]) -> Listed:
    return Listed(
        Number("A spacing", unit="m", at_least=0.1, at_most=20),
        f"Spacings of the trunk's drops that are made for modules in {orientation} [m]",
        most=20,
        assumed=Assumed(made_m, INVENTED),
    )


class TrunkSystemSchema(InputSchema):
    """The trunk cable as its maker sells it."""

    drop_spacings_portrait_m = _spacings("portrait", (1.3, 2.5))
    drop_spacings_landscape_m = _spacings("landscape", (2.1, 4.0))
    sold_by_length = Flag(
        "Whether the trunk is cable by the metre with connectors for the microinverters, in place of sections with a drop each",
        assumed=Assumed(False, INVENTED),
    )
    disconnect_tools = _count("Tools for the trunk's connectors that the job needs", 10, Assumed(1, COMMON_PRACTICE))

    @post_load
    def to_dataclass(self, data: dict[str, Any], **_: Any) -> TrunkSystem:
        """The trunk for the core."""
        return TrunkSystem(
            tuple(data["drop_spacings_portrait_m"]),
            tuple(data["drop_spacings_landscape_m"]),
            data["sold_by_length"],
            data["disconnect_tools"],
        )
