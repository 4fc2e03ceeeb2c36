"""The operations of the service, a file for each group of them.

A new operation is a method without a body in one of the groups, and its result class. Both clients then have it.
"""

from __future__ import annotations

from wattpair.operations.bill_of_materials import BillOfMaterialsOperations
from wattpair.operations.circuits import CircuitsOperations
from wattpair.operations.clipping import ClippingOperations
from wattpair.operations.design import DesignOperations
from wattpair.operations.health import HealthOperations
from wattpair.operations.layout import LayoutOperations
from wattpair.operations.regions import RegionOperations
from wattpair.operations.selection import SelectionOperations
from wattpair.operations.site_climate import SiteClimateOperations
from wattpair.operations.sizing import SizingOperations


class Operations(
    SiteClimateOperations,
    SizingOperations,
    ClippingOperations,
    SelectionOperations,
    LayoutOperations,
    CircuitsOperations,
    BillOfMaterialsOperations,
    DesignOperations,
    RegionOperations,
    HealthOperations,
):
    """All of them, as every client has them."""
