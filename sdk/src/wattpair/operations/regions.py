"""GET /v1/regions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wattpair.call import get

if TYPE_CHECKING:
    from wattpair.results import Region, RegionsResult


class RegionOperations:
    """The published rules that the service carries."""

    @get("/v1/regions")
    def list_regions(self) -> RegionsResult:
        """The regions whose rules the service carries.

        Returns
        -------
        RegionsResult
            Their names, as the argument `region` of other calls takes them.
        """

    @get("/v1/regions/{name}")
    def read_region(self, *, name: str) -> Region:
        """The rules of a region, each with its clause and how the value was obtained.

        Parameters
        ----------
        name : str
            Name of the region, such as "netherlands".

        Returns
        -------
        Region
            Its rules; changed, they can be sent as the argument `region_rules` of other calls.
        """
