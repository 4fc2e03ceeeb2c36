"""POST /v1/design: the whole job for one roof."""

from __future__ import annotations

import logging
from http import HTTPStatus

from wattpair_service.api.design_result_schemas import DesignResultSchema
from wattpair_service.api.design_schemas import DesignBody, DesignRequestSchema
from wattpair_service.api.operation import Answered, Export, Operation
from wattpair_service.api.problems import Problem
from wattpair_service.climate.site_year import nearest_station, site_year
from wattpair_service.climate.stations import StationFolder
from wattpair_service.engineering.design import Design, design
from wattpair_service.report import pdf
from wattpair_service.report.house import House
from wattpair_service.report.sheet import CONTENT_POLICY, sheet
from wattpair_service.rules import electrical_rules

LOG = logging.getLogger(__name__)


def handle(body: DesignBody, stations: StationFolder) -> Design:
    """Answer a request."""
    site = body.request.site
    year = site_year(site, body.weather, stations)
    result = design(
        body.request,
        electrical_rules(body.region),
        year.design,
        year.conditions,
        year.spread(),
        climate=year.climate,
        linke_turbidity_by_month=year.linke_turbidity_by_month,
        nearest_station=nearest_station(site, stations),
    )
    return year.with_findings(result)


def as_html(answered: Answered, house: House) -> str:
    """The sheet."""
    return sheet(answered.result, answered.asked.sheet, house)


def as_pdf(answered: Answered, house: House) -> bytes:
    """The sheet on paper."""
    try:
        return pdf.as_pdf(as_html(answered, house))
    except pdf.PdfError as error:
        LOG.warning("no PDF", exc_info=error.__cause__)
        raise Problem(HTTPStatus.UNPROCESSABLE_ENTITY, NO_PDF, NO_PDF_DETAIL) from error


NO_PDF = "no-pdf"
NO_PDF_DETAIL = (
    "The sheet cannot be laid out as PDF, most likely for its logo or for a character that no font here has: leave /sheet/logo "
    "out, or send Accept: text/html, which can be printed."
)
LANGUAGE_TAG = "[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*"
"""What a language may be called (RFC 5646, its common forms)."""
HEADERS = {"Content-Security-Policy": CONTENT_POLICY, "X-Content-Type-Options": "nosniff"}

OPERATION = Operation(
    path="/v1/design",
    operation_id="design_roof",
    summary="The whole job for one roof: climate, layout, checks, energy, choice, circuits, bill and prices",
    description=(
        "One call for what the other operations answer. Each part equals what its own operation gives for the same input, but "
        "for `assumptions`, `cautions` and `method`: they stand once for all parts at the top and are empty in each part. A "
        "face is given by its count of modules or by its size; then the layout counts them. Circuits and bill are made for the "
        "recommended pairing or, with `build`, for the one that is asked for; `built` says which and why. They are for one "
        "kind of microinverter: a mixed choice stays advice in `selection`. Where nothing passes its electrical checks, or no "
        "circuit can be made for what would be built, the answer says so, and what needs a pairing is null. Send "
        "`Accept: text/html` for the sheet that a customer reads, in one file that needs nothing beside itself, or "
        "`application/pdf` for the same on paper; `sheet` says whose name it bears and in which language. A language that is "
        "not offered is answered by 406, for JSON too. The call changes nothing and may be repeated safely."
    ),
    request=DesignRequestSchema,
    response=DesignResultSchema,
    handle=handle,
    exports={
        "text/html": Export(as_html, "text/html; charset=utf-8", "The sheet for the customer, in one file", HEADERS),
        "application/pdf": Export(
            as_pdf,
            "application/pdf",
            "The same sheet on paper, where the service has its extra `pdf`",
            {"Content-Disposition": 'inline; filename="sheet.pdf"', "X-Content-Type-Options": "nosniff"},
            pdf.available,
        ),
    },
    negotiated={"/sheet/language": LANGUAGE_TAG},
)
