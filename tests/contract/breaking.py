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
    return sorted({*_of_the_file(old, new), *_Comparison(old, new).of_operations()})


def _of_the_file(old: Document, new: Document) -> Iterator[str]:
    yield from _of_the_rest({"servers": old.get("servers")}, {"servers": new.get("servers")}, "the file")
    yield from _of_limits(old.get("x-limits"), new.get("x-limits"), "the file: x-limits")
    before, after = (each.get("components", {}).get("securitySchemes", {}) for each in (old, new))
    yield from _of_named(before, after, "the file: securitySchemes")


def _of_named(before: Mapping[str, Any], after: Mapping[str, Any], where: str) -> Iterator[str]:
    """Each must stay as it is, more may come."""
    for name, described in before.items():
        if _without_words(described) != _without_words(after.get(name)):
            yield f"{where} {name}: removed or changed"


def _without_words(described: Any) -> Any:
    """The same without what only people read."""
    if not isinstance(described, Mapping):
        return described
    return {key: _without_words(value) for key, value in described.items() if key not in WORDS}


def _of_the_rest(old: Schema, new: Schema, where: str, known: Set[str] = frozenset()) -> Iterator[str]:
    """Whatever the comparison does not understand is breaking once it changes."""
    for key in sorted((old.keys() | new.keys()) - known - WORDS):
        if old.get(key) != new.get(key):
            yield f"{where}: {key} {old.get(key)!r} became {new.get(key)!r}"


class _Comparison:
    def __init__(self, old: Document, new: Document) -> None:
        self._old, self._new = old, new
        self._seen: set[tuple[str, str, bool]] = set()

    def of_operations(self) -> Iterator[str]:
        for path, item in self._old["paths"].items():
            for method in METHODS & item.keys():
                where, other = f"{method.upper()} {path}", self._new["paths"].get(path, {})
                if method not in other:
                    yield f"{where}: removed"
                    continue
                self._seen.clear()
                before, after = ({"servers": each.get("servers"), **each[method]} for each in (item, other))
                yield from _of_the_rest(before, after, where, OF_OPERATION)
                if before.get("operationId") != after.get("operationId"):
                    yield f"{where}: operationId {before.get('operationId')} became {after.get('operationId')}"
                yield from self._of_security(before, after, where)
                # Those of the path hold for each of its operations.
                given, taken = ([*each.get("parameters", []), *each[method].get("parameters", [])] for each in (item, other))
                yield from self._of_parameters(given, taken, where)
                body, new_body = before.get("requestBody", {}), after.get("requestBody", {})
                if new_body.get("required") and not body.get("required"):
                    yield f"{where} request: required"
                yield from self._of_content(body, new_body, f"{where} request", is_input=True)
                yield from self._of_answers(before["responses"], after["responses"], where)

    def _of_security(self, old: Schema, new: Schema, where: str) -> Iterator[str]:
        """Each alternative that was enough must stay so; {} is a call without a key."""
        before = old.get("security", self._old.get("security")) or [{}]
        after = new.get("security", self._new.get("security")) or [{}]
        yield from (f"{where}: security {dict(each)} no longer enough" for each in before if each not in after)

    def _of_parameters(self, old: list[Schema], new: list[Schema], where: str) -> Iterator[str]:
        before, after = ({f"{where} {each['in']} {each['name']}": each for each in side} for side in (old, new))
        for inner, parameter in after.items():
            if parameter.get("required") and not before.get(inner, {}).get("required"):
                yield f"{inner}: required"
        for inner, parameter in before.items():
            if inner not in after:
                yield f"{inner}: removed"
            else:
                yield from _of_the_rest(parameter, after[inner], inner, {"in", "name", "required", "schema"})
                yield from self._of_schema(parameter["schema"], after[inner]["schema"], inner, is_input=True)

    def _of_answers(self, old: Schema, new: Schema, where: str) -> Iterator[str]:
        yield from (f"{where} answer {status}: new status" for status in new.keys() - old.keys())
        yield from (f"{where} answer {status}: removed" for status in old.keys() - new.keys())
        for status in old.keys() & new.keys():
            inner = f"{where} answer {status}"
            before, after = self._resolved(old[status], self._old), self._resolved(new[status], self._new)
            headers, new_headers = before.get("headers", {}), after.get("headers", {})
            for name in headers:
                if name not in new_headers:
                    yield f"{inner} header {name}: removed"
                else:
                    earlier = self._resolved(headers[name], self._old).get("schema", {})
                    later = self._resolved(new_headers[name], self._new).get("schema", {})
                    yield from self._of_schema(earlier, later, f"{inner} header {name}", is_input=False)
            yield from _of_named(before.get("links", {}), after.get("links", {}), f"{inner} link")
            yield from self._of_content(before, after, inner, is_input=False)

    def _of_content(self, old: Schema, new: Schema, where: str, *, is_input: bool) -> Iterator[str]:
        before, after = old.get("content", {}), new.get("content", {})
        for media_type, described in before.items():
            if media_type not in after:
                yield f"{where}: {media_type} removed"
            else:
                yield from self._of_schema(described["schema"], after[media_type]["schema"], where, is_input=is_input)

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
