"""POST /v1/bill-of-materials: what has to be ordered for a roof."""

from __future__ import annotations

from wattpair_service.api import bill_of_materials_csv
from wattpair_service.api.bill_of_materials_schemas import BillOfMaterialsRequestSchema, BillOfMaterialsResultSchema
from wattpair_service.api.operation import Export, Operation
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.bill_of_materials import BillOfMaterials, Order, bill_of_materials


def handle(order: Order, _: StationFolder) -> BillOfMaterials:
    """Answer a request."""
    return bill_of_materials(order)


OPERATION = Operation(
    path="/v1/bill-of-materials",
    operation_id="list_materials",
    summary="Parts to order, branch circuits, masses and prices, from counts",
    description=(
        "From the modules on each face and the microinverter's current: the branch circuits, every part with its quantity, how "
        "that quantity came about and where it belongs, the papers of the region, the dead load of each face, and with the "
        "caller's price book net, tax, total and margin in decimals. Circuits do not cross from one face to another unless "
        "circuits_may_cross_faces allows it. Send `Accept: text/csv` for the lines as CSV (RFC 4180); their order is always "
        "the same. The call changes nothing and may be repeated safely."
    ),
    request=BillOfMaterialsRequestSchema,
    response=BillOfMaterialsResultSchema,
    handle=handle,
    exports={
        bill_of_materials_csv.MEDIA_TYPE: Export(
            lambda answered, _: bill_of_materials_csv.as_csv(answered.body()),
            bill_of_materials_csv.CONTENT_TYPE,
            "The bill's lines with their prices, RFC 4180",
        )
    },
)
