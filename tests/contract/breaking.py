"""What a caller of an earlier contract would stumble over in a later one.

Requests may be allowed more, answers may gain fields, operations may be added. Everything else is named by its place, such as
"POST /v1/sizing request /module/power_w".
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
from typing import Any

Document = Mapping[str, Any]
Schema = Mapping[str, Any]
METHODS = ("get", "put", "post", "delete", "patch")
LOWER_ENDS = ("minimum", "exclusiveMinimum", "minLength", "minItems")
UPPER_ENDS = ("maximum", "exclusiveMaximum", "maxLength", "maxItems")


KNOWN = {*LOWER_ENDS, *UPPER_ENDS, "$ref", "type", "enum", "pattern", "properties", "required", "items", "oneOf", "anyOf"}
KNOWN |= {"x-unit", "default"}
WORDS = {"description", "title", "summary", "example", "examples", "deprecated", "tags", "externalDocs", "x-source"}
OF_OPERATION = {"operationId", "parameters", "requestBody", "responses", "security"}


def breaking_changes(old: Document, new: Document) -> list[str]:
    """Each change by its place and what it is; sorted, each once."""
    return sorted(set(_of_operations(old, new)))


def _of_operations(old: Document, new: Document) -> Iterator[str]:
    yield from _of_the_rest({"servers": old.get("servers")}, {"servers": new.get("servers")}, "the file")
    yield from _of_schemes(old, new)
    yield from _of_limits(old.get("x-limits"), new.get("x-limits"), "the file: x-limits")
    for path, item in old["paths"].items():
        for method in METHODS & item.keys():
            where = f"{method.upper()} {path}"
            later = new["paths"].get(path, {}).get(method)
            if later is None:
                yield f"{where}: removed"
            else:
                before, after = _with_the_paths(item, item[method]), _with_the_paths(new["paths"][path], later)
                yield from _Comparison(old, new).of_operation(before, after, where)


def _of_schemes(old: Document, new: Document) -> Iterator[str]:
    """Ways to show who one is: each must stay as it is, more may come."""
    before, after = (each.get("components", {}).get("securitySchemes", {}) for each in (old, new))
    for name, scheme in before.items():
        if _without_words(scheme) != _without_words(after.get(name)):
            yield f"the file: securitySchemes {name} removed or changed"


def _without_words(described: Any) -> Any:
    """The same without what only people read."""
    if not isinstance(described, Mapping):
        return described
    return {key: _without_words(value) for key, value in described.items() if key not in WORDS}


def _with_the_paths(item: Schema, operation: Schema) -> Schema:
    """An operation with what stands once for all operations of its path."""
    given = {"servers": item["servers"]} if "servers" in item else {}
    return {**given, **operation, "parameters": [*item.get("parameters", []), *operation.get("parameters", [])]}


def _of_the_rest(old: Schema, new: Schema, where: str, known: Set[str] = frozenset()) -> Iterator[str]:
    """Whatever the comparison does not understand is breaking once it changes."""
    for key in sorted((old.keys() | new.keys()) - known - WORDS):
        if old.get(key) != new.get(key):
            yield f"{where}: {key} {old.get(key)!r} became {new.get(key)!r}"


class _Comparison:
    """One operation in both documents."""

    def __init__(self, old: Document, new: Document) -> None:
        self._old, self._new = old, new
        self._seen: set[tuple[str, str, bool]] = set()

    def of_operation(self, old: Schema, new: Schema, where: str) -> Iterator[str]:
        if old.get("operationId") != new.get("operationId"):
            yield f"{where}: operationId {old.get('operationId')} became {new.get('operationId')}"
        yield from _of_the_rest(old, new, where, OF_OPERATION)
        yield from self._of_security(old, new, where)
        yield from self._of_parameters(old.get("parameters", []), new.get("parameters", []), where)
        yield from self._of_body(old.get("requestBody", {}), new.get("requestBody", {}), f"{where} request")
        yield from self._of_answers(old["responses"], new["responses"], where)

    def _of_security(self, old: Schema, new: Schema, where: str) -> Iterator[str]:
        """Each alternative that was enough must stay so; {} is a call without a key."""
        before, after = (
            operation.get("security", document.get("security")) or [{}]
            for operation, document in ((old, self._old), (new, self._new))
        )
        for alternative in before:
            if alternative not in after:
                yield f"{where}: security {dict(alternative)} no longer enough"

    def _of_parameters(self, old: list[Schema], new: list[Schema], where: str) -> Iterator[str]:
        before, after = ({(each["in"], each["name"]): each for each in side} for side in (old, new))
        for place, parameter in after.items():
            if parameter.get("required") and not before.get(place, {}).get("required"):
                yield f"{where} {place[0]} {place[1]}: required"
        for place, parameter in before.items():
            if place not in after:
                yield f"{where} {place[0]} {place[1]}: removed"
            else:
                inner = f"{where} {place[0]} {place[1]}"
                yield from _of_the_rest(parameter, after[place], inner, {"in", "name", "required", "schema"})
                yield from self._of_schema(parameter["schema"], after[place]["schema"], inner, is_input=True)

    def _of_body(self, old: Schema, new: Schema, where: str) -> Iterator[str]:
        if new.get("required") and not old.get("required"):
            yield f"{where}: required"
        yield from self._of_content(old.get("content", {}), new.get("content", {}), where, is_input=True)

    def _of_answers(self, old: Schema, new: Schema, where: str) -> Iterator[str]:
        for status in new.keys() - old.keys():
            yield f"{where} answer {status}: new status"
        for status in old.keys() - new.keys():
            yield f"{where} answer {status}: removed"
        for status in old.keys() & new.keys():
            inner = f"{where} answer {status}"
            before, after = self._resolved(old[status], self._old), self._resolved(new[status], self._new)
            for header in before.get("headers", {}).keys() - after.get("headers", {}).keys():
                yield f"{inner} header {header}: removed"
            for header in before.get("headers", {}).keys() & after.get("headers", {}).keys():
                earlier = self._resolved(before["headers"][header], self._old).get("schema", {})
                later = self._resolved(after["headers"][header], self._new).get("schema", {})
                yield from self._of_schema(earlier, later, f"{inner} header {header}", is_input=False)
            for link, meaning in before.get("links", {}).items():
                if _without_words(after.get("links", {}).get(link)) != _without_words(meaning):
                    yield f"{inner} link {link}: removed or changed"
            yield from self._of_content(before.get("content", {}), after.get("content", {}), inner, is_input=False)

    def _of_content(self, old: Schema, new: Schema, where: str, *, is_input: bool) -> Iterator[str]:
        for media_type, described in old.items():
            if media_type not in new:
                yield f"{where}: {media_type} removed"
            else:
                yield from self._of_schema(described["schema"], new[media_type]["schema"], where, is_input=is_input)

    def _of_schema(self, old: Schema, new: Schema, where: str, *, is_input: bool) -> Iterator[str]:
        references = (old.get("$ref", ""), new.get("$ref", ""), is_input)
        if references[0] and references[1]:
            if references in self._seen:
                return
            self._seen.add(references)
        before, after = self._resolved(old, self._old), self._resolved(new, self._new)
        yield from _of_types(before, after, where, is_input=is_input)
        yield from _of_values(before, after, where, is_input=is_input)
        yield from _of_the_rest(before, after, where, KNOWN)
        if is_input:
            yield from _of_bounds(before, after, where)
        yield from self._of_fields(before, after, where, is_input=is_input)
        if "items" in before and "items" in after:
            yield from self._of_schema(before["items"], after["items"], f"{where}/0", is_input=is_input)
        for kind in ("oneOf", "anyOf"):
            yield from self._of_alternatives(before.get(kind, []), after.get(kind, []), where, is_input=is_input)

    def _of_fields(self, old: Schema, new: Schema, where: str, *, is_input: bool) -> Iterator[str]:
        before, after = old.get("properties", {}), new.get("properties", {})
        needed, given = set(new.get("required", ())), set(old.get("required", ()))
        if is_input:
            yield from (f"{_within(where, name)}: required" for name in needed - given)
        else:
            yield from (f"{_within(where, name)}: no longer always there" for name in (given - needed) & after.keys())
        for name in before.keys() - after.keys():
            yield f"{_within(where, name)}: removed"
        for name in before.keys() & after.keys():
            yield from self._of_schema(before[name], after[name], _within(where, name), is_input=is_input)

    def _of_alternatives(self, old: list[Schema], new: list[Schema], where: str, *, is_input: bool) -> Iterator[str]:
        """Alternatives are told by their reference or type: a request must keep each, an answer may gain none."""
        if is_input and new and not old:
            yield f"{where}: anyOf or oneOf where there was none"
        before, after = ({self._name(each): each for each in side} for side in (old, new))
        for name in (before.keys() - after.keys()) if is_input else (after.keys() - before.keys()):
            yield f"{where}: alternative {name} {'removed' if is_input else 'added'}"
        for name in before.keys() & after.keys():
            yield from self._of_schema(before[name], after[name], where, is_input=is_input)

    def _name(self, schema: Schema) -> str:
        return str(schema.get("$ref", schema.get("type", schema))).rsplit("/", 1)[-1]

    def _resolved(self, schema: Any, document: Document) -> Schema:
        while isinstance(schema, Mapping) and "$ref" in schema:
            _, *steps = schema["$ref"].split("/")
            found: Any = document
            for step in steps:
                found = found[step]
            schema = {**found, **{key: value for key, value in schema.items() if key != "$ref"}}
        resolved: Schema = schema
        return resolved


def _within(where: str, name: str) -> str:
    """The place of a field: the first one of a body begins the pointer."""
    return f"{where}/{name}" if "/" in where.rsplit(" ", 1)[-1] and not where.endswith("request") else f"{where} /{name}"


def _types(schema: Schema) -> set[str]:
    given = schema.get("type", [])
    types = {given} if isinstance(given, str) else set(given)
    return types | {"integer"} if "number" in types else types


def _of_types(old: Schema, new: Schema, where: str, *, is_input: bool) -> Iterator[str]:
    before, after = _types(old), _types(new)
    narrowed = bool(after) and not (before and before <= after)
    widened = bool(before) and not (after and after <= before)
    if narrowed if is_input else widened:
        yield f"{where}: type {sorted(before) or 'any'} became {sorted(after) or 'any'}"
    if old.get("x-unit") != new.get("x-unit"):
        yield f"{where}: unit {old.get('x-unit')} became {new.get('x-unit')}"
    if is_input and old.get("default") != new.get("default"):
        yield f"{where}: default {old.get('default')!r} became {new.get('default')!r}"


def _of_values(old: Schema, new: Schema, where: str, *, is_input: bool) -> Iterator[str]:
    before, after = old.get("enum"), new.get("enum")
    if is_input and after is not None:
        gone = ["any value"] if before is None else [value for value in before if value not in after]
        yield from (f"{where}: {value!r} no longer allowed" for value in gone)
    if not is_input and before is not None:
        added = ["any value"] if after is None else [value for value in after if value not in before]
        yield from (f"{where}: {value!r} may come" for value in added)
    if is_input and new.get("pattern", old.get("pattern")) != old.get("pattern"):
        yield f"{where}: pattern {old.get('pattern')!r} became {new['pattern']!r}"


def _of_bounds(old: Schema, new: Schema, where: str) -> Iterator[str]:
    for ends, narrower in ((LOWER_ENDS, 1), (UPPER_ENDS, -1)):
        for name in ends:
            before, after = old.get(name), new.get(name)
            if after is not None and (before is None or (after - before) * narrower > 0):
                yield f"{where}: {name} {before} became {after}"


def _of_limits(old: Any, new: Any, where: str) -> Iterator[str]:
    """Limits may be raised or go, but neither come nor fall."""
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        for name in sorted(new.keys() - WORDS):
            yield from _of_limits(old.get(name), new[name], f"{where}/{name}")
    elif new is not None and new != old:
        numbers = isinstance(old, (int, float)) and isinstance(new, (int, float))
        if not (numbers and new > old):
            yield f"{where} {old!r} became {new!r}"
