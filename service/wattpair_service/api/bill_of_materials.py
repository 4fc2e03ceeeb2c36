"""POST /v1/bill-of-materials: what has to be ordered for a roof."""

from __future__ import annotations

from wattpair_service.api.bill_of_materials_schemas import BillOfMaterialsRequestSchema, BillOfMaterialsResultSchema
from wattpair_service.api.operation import Operation
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.bill_of_materials import BillOfMaterials, Order, bill_of_materials


def handle(order: Order, _: StationFolder) -> BillOfMaterials:
    """Answer a request."""
    return bill_of_materials(order)


OPERATION = Operation(
    path="/v1/bill-of-materials",
    operation_id="list_materials",
    summary="Parts to order, branch circuits and masses, from counts",
    description=(
        "From the modules on each face and the microinverter's current: the branch circuits, every part with its quantity, how "
        "that quantity came about and where it belongs, and the dead load of each face. Circuits do not cross from one face to "
        "another. The call changes nothing and may be repeated safely."
    ),
    request=BillOfMaterialsRequestSchema,
    response=BillOfMaterialsResultSchema,
    handle=handle,
)
