"""Writes the OpenAPI 3.1 description of the API from its operations and schemas."""

from __future__ import annotations

from importlib import resources
from typing import Any

import yaml
from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from apispec.ext.marshmallow.openapi import OpenAPIConverter
from marshmallow import Schema, fields

from wattpair_service.api.exchange import problems
from wattpair_service.api.exchange.body import DEPTH_MAX
from wattpair_service.api.exchange.deprecation import DESCRIBED_HEADERS
from wattpair_service.api.exchange.operation import Operation
from wattpair_service.api.exchange.reference import Reference
from wattpair_service.api.routes import OPERATIONS, REFERENCES
from wattpair_service.api.schemas.base import OutputSchema
from wattpair_service.api.schemas.choice import KIND, Choice, Worded
from wattpair_service.api.schemas.results import many, text, whole
from wattpair_service.engineering.sentences import Words
from wattpair_service.settings import Settings
from wattpair_service.words.catalogue import english

VERSION = "1.0.0"
DEFAULT_BODY_LIMIT_BYTES = Settings().body_limit_bytes
DESCRIPTION = (
    "For a roof and a module, wattpair computes which microinverters are electrically safe, what a year yields and loses, "
    "and what to order. Every operation is a pure calculation: nothing is stored, the same request gives the same "
    "bytes, and any call may be repeated. Requests with unknown fields, wrong types or impossible values are refused, with "
    "all problems at once; results may gain fields in later versions. Results carry their assumptions, methods and "
    "cautions: keep the cautions with them. The proxy in front compresses responses where Accept-Encoding allows it."
)
COMMON_PROBLEMS = {
    "401": ("KeyNeeded", "The service requires an API key; the request has none, or an unknown one."),
    "429": ("TooManyRequests", "The key has used up its requests of this minute; Retry-After says when to call again."),
    "500": ("Fault", "The service failed on this request; its log has the error under the request id."),
    "503": ("Busy", "The service is at capacity or is stopping; Retry-After says when to call again."),
}
"""Problems that any operation may respond with."""
CACHED_PROBLEMS = {
    "412": ("PreconditionFailed", "If-Match was sent with an ETag. ETags here are weak: send them as If-None-Match.")
}
REFERENCE_PROBLEMS = {"404": ("Unknown", "The name is unknown; `detail` lists the known names.")}
CALCULATION_PROBLEMS = {
    "400": ("Malformed", "The body is not one JSON object in UTF-8 without duplicate keys and NaN."),
    "406": ("NotAcceptable", "The requested media type or language is not offered; `detail` or `errors` lists what is."),
    "413": ("TooLarge", "The body is larger than the service accepts."),
    "415": ("WrongMediaType", "Content-Type is not application/json, or the body is compressed."),
    "422": ("Invalid", "Fields are not as allowed; `errors` lists them."),
}
RETRY_AFTER = ("429", "503")


class FieldErrorSchema(OutputSchema):
    """One problem in a body."""

    pointer = text("JSON pointer (RFC 6901) to the field; empty for the whole body")
    given = text("Value in the request, shortened")
    allowed = text("Values that are allowed")
    detail = text("Pointer, given and allowed in one sentence")


class ProblemSchema(OutputSchema):
    """An error (RFC 9457)."""

    type = text("Stable name of the kind of problem")
    title = text("Name of the HTTP status")
    status = whole("HTTP status")
    detail = text("What is wrong, in plain words")
    request_id = text("Id of the request, as in the service's log")
    errors = many(FieldErrorSchema, "Problems by field; may be empty")


def document(body_limit_bytes: int = DEFAULT_BODY_LIMIT_BYTES) -> dict[str, Any]:
    """The whole description as plain data, for a service with this limit on bodies [bytes]."""
    kinds: dict[str, type[Schema]] = {}
    plugin = MarshmallowPlugin(schema_name_resolver=lambda schema: _name(schema, kinds))
    spec = APISpec(
        title="wattpair",
        version=VERSION,
        openapi_version="3.1.0",
        plugins=[plugin],
        info={"description": DESCRIPTION, "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"}},
        **{"x-limits": _limits(body_limit_bytes)},
        servers=[{"url": "/"}],
        security=[{}, {"key": []}],
        tags=[
            {"name": "pairing", "description": "Calculations"},
            {"name": "reference", "description": "Data that requests may name"},
            {"name": "service", "description": "The service itself"},
        ],
    )
    converter = plugin.converter
    assert converter is not None, "the plugin is bound to the spec"
    converter.add_attribute_function(_choice_to_properties)  # type: ignore[no-untyped-call]
    for problems_described in (COMMON_PROBLEMS, REFERENCE_PROBLEMS, CACHED_PROBLEMS, CALCULATION_PROBLEMS):
        for status, (name, description) in problems_described.items():
            spec.components.response(name, _problem(status, description))
    spec.components.security_scheme("key", _KEY)
    for operation in OPERATIONS:
        spec.path(path=operation.path, operations={"post": _operation(operation)})
    for reference in REFERENCES:
        spec.path(path=reference.path, operations={"get": _reference(reference)})
    spec.path(path="/health/live", operations={"get": _live()})
    spec.path(path="/health/ready", operations={"get": _ready()})
    spec.path(path="/metrics", operations={"get": _metrics()})
    spec.path(path="/openapi.json", operations={"get": _contract("get_contract", "JSON", "application/json")})
    spec.path(path="/openapi.yaml", operations={"get": _contract("get_contract_yaml", "YAML", "application/yaml")})
    described: dict[str, Any] = _plain(spec.to_dict())
    for name, schema in described["components"]["schemas"].items():
        schema["description"] = " ".join(str(kinds[name].__doc__).partition("\n\n")[0].split())
    return described


def as_yaml(body_limit_bytes: int = DEFAULT_BODY_LIMIT_BYTES) -> str:
    """The description as YAML, as in the committed file."""
    header = "# Written by `wattpair-service contract`; a test fails when it drifts from the code.\n"
    return header + yaml.safe_dump(document(body_limit_bytes), sort_keys=False, allow_unicode=True, width=120)


def example(operation: Operation) -> dict[str, Any]:
    """The operation's example request: a valid body in an invented scenario."""
    file = resources.files("wattpair_service.api.contract").joinpath("examples", f"{operation.operation_id}.yaml")
    loaded: dict[str, Any] = yaml.safe_load(file.read_text(encoding="utf-8"))
    return loaded


def _name(schema: Any, kinds: dict[str, type[Schema]]) -> str:
    """The name of a schema in the contract; `kinds` keeps what is behind it."""
    kind = schema if isinstance(schema, type) else type(schema)
    name = str(kind.__name__).removesuffix("Schema")
    kinds[name] = kind
    return name


def _operation(operation: Operation) -> dict[str, Any]:
    deprecated = {} if operation.deprecation is None else {"deprecated": True}
    note = "" if operation.deprecation is None else f" {operation.deprecation.described()}"
    return {
        "operationId": operation.operation_id,
        "tags": ["pairing"],
        "summary": operation.summary,
        "description": operation.description + note,
        **deprecated,
        "requestBody": {
            "required": True,
            "content": {"application/json": {"schema": operation.request, "examples": {"roof": {"value": example(operation)}}}},
        },
        "responses": {
            "200": {
                "description": "The result.",
                "headers": {"X-Request-ID": _REQUEST_ID, **({} if operation.deprecation is None else DESCRIBED_HEADERS)},
                "content": {
                    "application/json": {"schema": operation.response},
                    **{
                        media_type: {"schema": {"type": "string", "description": export.description}}
                        for media_type, export in operation.exports.items()
                    },
                },
            },
            **{status: name for status, (name, _) in sorted((CALCULATION_PROBLEMS | COMMON_PROBLEMS).items())},
        },
    }


_REQUEST_ID = {"description": "Id of the request: the caller's, or one generated by the service.", "schema": {"type": "string"}}


_RETRY_AFTER = {"description": "Seconds after which to call again.", "schema": {"type": "integer", "minimum": 0}}
_KEY = {"type": "http", "scheme": "bearer", "description": "Required where the operator has enabled keys."}
_CACHING = {
    "ETag": {"description": "Identifies this version of the data; send it as If-None-Match.", "schema": {"type": "string"}},
    "Cache-Control": {
        "description": "no-cache: it may be stored, but must be revalidated before each use.",
        "schema": {"type": "string"},
    },
}
_IF_NONE_MATCH = {
    "name": "If-None-Match",
    "in": "header",
    "required": False,
    "description": "ETag of the data that the caller has already.",
    "schema": {"type": "string"},
}


def _reference(reference: Reference) -> dict[str, Any]:
    named = [
        {
            "name": name,
            "in": "path",
            "required": True,
            "description": f"One of the {len(values)} names.",
            "schema": {"type": "string", "enum": list(values), "x-listed-by": reference.listed_by},
        }
        for name, values in reference.names.items()
    ]
    problems_described = (REFERENCE_PROBLEMS if named else {}) | CACHED_PROBLEMS | COMMON_PROBLEMS
    described: dict[str, Any] = {
        "operationId": reference.operation_id,
        "tags": ["reference"],
        "summary": reference.summary,
        "description": reference.description,
        "parameters": [*named, _IF_NONE_MATCH],
        "responses": {
            "200": {
                "description": "The data.",
                "headers": {"X-Request-ID": _REQUEST_ID, **_CACHING},
                "content": {"application/json": {"schema": reference.response}},
            },
            "304": _UNCHANGED,
            **{status: name for status, (name, _) in sorted(problems_described.items())},
        },
    }
    if reference.operation_id == "list_regions":
        described["responses"]["200"]["links"] = {
            "rules": {
                "operationId": "read_region",
                "parameters": {"name": "$response.body#/regions/0/name"},
                "description": "The rules of the first region; those of the others by their names.",
            }
        }
    return described


_UNCHANGED = {
    "description": "The caller has this version of the data already.",
    "headers": {"X-Request-ID": _REQUEST_ID, **_CACHING},
}


def _limits(body_limit_bytes: int) -> dict[str, Any]:
    """Limits on every request, whatever its operation."""
    return {
        "body_bytes": body_limit_bytes,
        "nesting_levels": DEPTH_MAX,
        "errors_named": problems.ERRORS_MOST,
        "description": (
            "body_bytes: largest body (413 above). nesting_levels: deepest nesting of objects and arrays (400 above). "
            "errors_named: most errors that one problem lists. The body limit is a setting of the operator; /openapi.json of a "
            "running service has its own. Limits on arrays, texts and numbers are in their schemas (422 beyond)."
        ),
    }


def _problem(status: str, description: str) -> dict[str, Any]:
    return {
        "description": description,
        "headers": {"X-Request-ID": _REQUEST_ID, **({"Retry-After": _RETRY_AFTER} if status in RETRY_AFTER else {})},
        "content": {problems.MEDIA_TYPE: {"schema": ProblemSchema}},
    }


def _live() -> dict[str, Any]:
    schema = {"type": "object", "required": ["status"], "properties": {"status": {"type": "string", "enum": ["live"]}}}
    return {
        "operationId": "check_live",
        "tags": ["service"],
        "summary": "Liveness",
        "description": "Responds while the process runs.",
        "responses": {
            "200": {"description": "Alive.", "content": {"application/json": {"schema": schema}}},
            "500": "Fault",
        },
    }


class ReadinessSchema(OutputSchema):
    """Whether the service's data can be read."""

    status = text("Whether it is ready", ("ready", "not ready"))
    faults = fields.List(fields.String(), required=True, metadata={"description": "Why it is not ready"})
    station_count = whole("Usable station files")
    broken_station_count = whole("Station files that cannot be used; the service's log names them")


def _ready() -> dict[str, Any]:
    content = {"application/json": {"schema": ReadinessSchema}}
    return {
        "operationId": "check_ready",
        "tags": ["service"],
        "summary": "Readiness",
        "description": "Says whether the built-in climate and the operator's station folder can be read.",
        "responses": {
            "200": {"description": "Ready.", "content": content},
            "500": "Fault",
            "503": {"description": "Not ready; `faults` says why.", "content": content},
        },
    }


def _metrics() -> dict[str, Any]:
    return {
        "operationId": "get_metrics",
        "tags": ["service"],
        "summary": "Metrics of the service",
        "description": "Metrics over all workers, for Prometheus.",
        "responses": {
            "200": {"description": "Prometheus text format.", "content": {"text/plain": {"schema": {"type": "string"}}}},
            "401": "KeyNeeded",
        },
    }


def _contract(operation_id: str, form: str, media_type: str) -> dict[str, Any]:
    return {
        "operationId": operation_id,
        "tags": ["service"],
        "summary": f"This description as {form}",
        "description": f"The OpenAPI description of this service as {form}; 304 where the caller has it already.",
        "parameters": [_IF_NONE_MATCH],
        "responses": {
            "200": {
                "description": "OpenAPI 3.1.",
                "headers": _CACHING,
                "content": {media_type: {"schema": {"type": "object"}}},
            },
            "304": _UNCHANGED,
            **{status: name for status, (name, _) in CACHED_PROBLEMS.items()},
            "500": "Fault",
        },
    }


def _choice_to_properties(self: OpenAPIConverter, field: fields.Field[Any], **_: Any) -> dict[str, Any]:
    """A `Choice` as oneOf with its discriminator, and a `Worded` as a text or an object.

    Its default is an object, which generators of clients write wrongly or not at all: what is assumed stands in words.
    """
    if isinstance(field, Worded):
        text = {"type": "string", "minLength": 1, "maxLength": field.text.longest}
        return {"oneOf": [text, self.resolve_nested_schema(field.by_language)]}  # type: ignore[no-untyped-call]
    if not isinstance(field, Choice):
        return {}
    references = {
        kind: self.resolve_nested_schema(schema)  # type: ignore[no-untyped-call]
        for kind, schema in field.kinds.items()
    }
    return {
        "default": None,
        "oneOf": list(references.values()),
        "discriminator": {
            "propertyName": KIND,
            "mapping": {kind: reference["$ref"] for kind, reference in references.items()},
        },
    }


def _plain(value: Any) -> Any:
    """Plain dicts, lists and texts, which YAML writes without tags. A default of null is left out: it means none."""
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items() if (key, item) != ("default", None)}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return english(value) if isinstance(value, Words) else value
