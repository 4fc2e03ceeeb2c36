"""Writes the client's models and methods from the contract: `python sdk/generate.py [--check]`.

datamodel-code-generator makes classes of the schemas; a small template here makes the methods, for both clients.
What the contract says of a field (meaning, unit, default, range, source) stands in the docstrings. Of defaults nothing else is
taken: a field that is left out is not sent, so that the service names its default among the assumptions.
"""

from __future__ import annotations

import argparse
import copy
import json
import re
import subprocess
import sys
import tempfile
import textwrap
from pathlib import Path
from typing import Any

import yaml

HERE = Path(__file__).resolve().parent
CONTRACT = HERE.parent / "openapi" / "wattpair.v1.yaml"
PACKAGE = HERE / "src" / "wattpair"
JSON = "application/json"
WIDTH = 124
MARK = "# Made from openapi/wattpair.v1.yaml by sdk/generate.py; not to be changed by hand.\n"
FRAMES: dict[str, dict[str, str]] = {
    "BillOfMaterialsResult": {"": "bill", "circuits": "circuits:", "masses": "masses:"},
    "CircuitsResult": {
        "": "circuits:", "rises": "rises:", "phases": "connection.phases:", "checks": "connection.checks:",
    },
    "ClippingResult": {"": "years_of_a_module", "months": "months_of_a_module", "totals": "totals", "ageing": "ageing"},
    "Duration": {"": "duration"},
    "LayoutResult": {"": "arrangement.modules:"},
    "PairingYear": {"months": "months", "clipping": "clipped_by_hour"},
    "Region": {"": "rules"},
    "Regions": {"": "regions:"},
    "SelectionResult": {
        "": "candidates", "break_evens": "break_evens", "curves": "curves", "sensitivities": "sensitivities:",
        "scenarios": "recommendation.scenarios:",
    },
    "SiteClimateResult": {"": "climate", "seasons": "seasons", "levels": "levels"},
    "SizingResult": {"": "checks"},
}  # fmt: skip
"""Tables of a model, by what stands before `to_frame`: a function of tables.py, or with a colon the field of its rows."""
FIGURES = ("Balance", "Check", "DesignTemperatures", "MoneyRange", "Range")
"""Models that are plain figures under names."""
DOCUMENTS = {
    ("design_roof", "text/html"): "sheet_html",
    ("design_roof", "application/pdf"): "sheet_pdf",
    ("design_roof", "text/csv"): "order_csv",
    ("list_materials", "text/csv"): "materials_csv",
}
"""Methods for answers in another form."""
KIND = "kind"
"""Tells the ways apart in which weather is given; each model has its own."""
LISTED = "x-listed-by"
"""Of choices that are data, and so may become more: any text to a type checker."""
WORDS_LONGEST = 80
"""Of a choice that a docstring repeats; the type has all words."""
NUMBERS = "wattpair.codec.Numbers"
"""Type of many numbers in a request."""
LEFT_OUT = ("get_metrics", "get_contract", "get_contract_yaml")
"""Operations for other programs."""

Schema = dict[str, Any]


def main() -> int:
    """Write the files, or compare them with those that are there."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="compare with the files that are there")
    check = parser.parse_args().check
    contract = yaml.safe_load(CONTRACT.read_text(encoding="utf-8"))
    # A text in the contract, since generators for other languages take the format for a number.
    document = json.loads(json.dumps(contract).replace('"x-decimal": true', '"format": "decimal"'))
    files = {PACKAGE / "models.py": models(document), PACKAGE / "operations.py": operations(document)}
    for path, text in files.items():
        if not check:
            path.write_text(text, encoding="utf-8")
    return int(any(path.read_text(encoding="utf-8") != text for path, text in files.items()))


def models(document: Schema) -> str:
    """The dataclasses."""
    given = copy.deepcopy(document)
    schemas = given["components"]["schemas"]
    schemas["Liveness"] = given["paths"]["/health/live"]["get"]["responses"]["200"]["content"][JSON]["schema"]
    for schema in schemas.values():
        _prepare(schema)
    del given["paths"]
    bases = dict.fromkeys(FIGURES, "wattpair.base.Figures") | {"FieldError": "wattpair.base.FieldOfARequest"}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "contract.json").write_text(json.dumps(given), encoding="utf-8")
        command = [
            sys.executable, "-m", "datamodel_code_generator", "--input", str(folder / "contract.json"),
            "--input-file-type", "openapi", "--output", str(folder / "models.py"), "--disable-timestamp",
            "--output-model-type", "dataclasses.dataclass", "--target-python-version", "3.11",
            "--base-class", "wattpair.base.Model", "--base-class-map", json.dumps(bases),
            "--use-generic-container-types", "--use-standard-collections", "--use-union-operator",
            "--enum-field-as-literal", "all", "--use-schema-description",
            "--collapse-root-models", "--formatters", "builtin",
        ]  # fmt: skip
        subprocess.run(command, check=True, capture_output=True)
        text = (folder / "models.py").read_text(encoding="utf-8")
    head, *classes = text[text.index("from __future__") :].split("\n\n\n@dataclass\n")
    head = head.replace("codec import Numbers", "codec import DecimalText, Numbers") + "\nfrom wattpair import tables\n"
    names = ", ".join(repr(each.partition("(")[0].removeprefix("class ")) for each in classes)
    said = '"""What requests and answers are made of, by the schemas of the contract."""\n\n'
    parts = [f"{head}\n__all__ = [{names}]", *(_struct(each, schemas) for each in classes)]
    return _formatted(MARK + said + "\n\n\n".join(parts))


def _struct(text: str, schemas: dict[str, Schema]) -> str:
    """A dataclass of the generator as a model of msgspec, with its tables."""
    name = text.partition("(")[0].removeprefix("class ")
    settings = "frozen=True, kw_only=True"
    if tag := re.search(rf"\n    {KIND}: Literal\['(\w+)'\] = '\w+'", text):
        text = text.replace(tag[0], "")
        settings += f", tag_field={KIND!r}, tag={tag[1]!r}"
    if schemas[name].get("additionalProperties") is False:
        # Arrays of numpy have no single truth of equality: models that take them are equal to themselves alone.
        settings += ", eq=False" if ": Numbers" in text else ""
    else:
        text = re.sub(r"(\n    \w+: )Decimal\b", r"\1DecimalText", text)
        while "Sequence[" in text:
            text = re.sub(r"Sequence\[((?:[^\[\]]|\[[^\[\]]*\])*)\]", r"tuple[\1, ...]", text)
    tables = [
        f"    {f'{what}_' if what else ''}to_frame = tables.{f'rows_of({rows[:-1]!r})' if rows.endswith(':') else rows}\n"
        for what, rows in FRAMES.get(name, {}).items()
    ]
    text = re.sub(r'"""\n    (.*)\n    """', r'"""\1"""', text)
    return text.replace("):\n", f", {settings}):\n", 1).rstrip("\n") + "\n" + "".join(tables)


def _prepare(schema: Schema) -> None:
    """Put what is said of the fields into the class's docstring, and leave defaults to the service."""
    fields = schema.get("properties", {})
    if fields:
        said = textwrap.fill(schema.get("description", "").strip() or "Made of these fields.", WIDTH - 8)
        lines = _field_lines(schema)
        schema["description"] = "\n".join([said, *(["", "Attributes", "----------", *lines] if lines else [])])
    for name, each in fields.items():
        each.pop("default", None)
        if name == KIND and schema.get("additionalProperties") is False:
            each["default"] = each["const"] = each.pop("enum")[0]
            schema["required"] = [required for required in schema.get("required", ()) if required != name]
        if LISTED in each:
            del each["enum"]
        if schema.get("additionalProperties") is False:
            fields[name] = _loose(each)


def _loose(field: Schema) -> Schema:
    """A field of a request: a mapping does in place of a model, a text in place of a decimal, any numbers in their order."""
    if field.get("items", {}).get("type") == "number":
        return {"type": "array", "customTypePath": NUMBERS}
    if "items" in field:
        return field | {"items": _loose(field["items"])}
    if "$ref" in field:
        return {"anyOf": [{"$ref": field["$ref"]}, {"type": "object"}]}
    if "oneOf" in field:
        return {"anyOf": [*field["oneOf"], {"type": "object"}]}
    if field.get("format") == "decimal":
        return {"anyOf": [{"type": "string", "format": "decimal"}, {"type": "string"}]}
    return field


def _field_lines(schema: Schema) -> list[str]:
    """Each field as numpydoc has it: its name, whether it may be left out, and all that the contract says of it."""
    lines = []
    for name, field in schema["properties"].items():
        if name == KIND and schema.get("additionalProperties") is False:
            continue  # the class itself says it
        optional = "" if name in schema.get("required", ()) or schema.get("additionalProperties") is not False else ", optional"
        lines += [f"{name} : {_in_words(field)}{optional}", textwrap.indent(textwrap.fill(_told(field), WIDTH - 8), "    ")]
    return lines


_SCALARS = {"number": "float", "integer": "int", "boolean": "bool", "string": "str"}
_WORDS = _SCALARS | {"object": "mapping", "null": "None", "any": "object"}


def _in_words(field: Schema) -> str:
    """The type of a field for people."""
    if "$ref" in field:
        return _name_of(field)
    if either := field.get("oneOf") or field.get("anyOf"):
        return " or ".join(map(_in_words, either))
    if "enum" in field and LISTED not in field:
        words = "{" + ", ".join(f'"{each}"' for each in field["enum"]) + "}"
        return words if len(words) < WORDS_LONGEST else "str, one of the words of its type"
    types = field.get("type", "any")
    words = [_WORDS.get(each, "") for each in ([types] if isinstance(types, str) else types)]
    if "array" in types:
        words[words.index("")] = f"sequence of {_in_words(field['items'])}"
    if field.get("format") == "decimal":
        words[words.index("str")] = "Decimal"
    return " or ".join(words)


def _told(field: Schema) -> str:
    """Meaning, default with its source, and range."""
    parts = [field.get("description", "").rstrip(".") or "As named"]
    if field.get("default") is not None:
        source = field.get("x-assumption-source")
        parts.append(f"default {json.dumps(field['default'])}" + (f" ({source})" if source else ""))
    elif field.get("x-assumption-source"):
        parts.append(f"if left out: {field['x-assumption-source']}")
    if "examples" in field:
        parts.append(f"such as {json.dumps(field['examples'][0])}")
    each = _limits(field.get("items", {}))
    parts += filter(None, (_limits(field), _length(field), each and f"each {each}"))
    if LISTED in field:
        parts.append(f"`{field[LISTED]}` lists them")
    if "x-source" in field:
        parts.append(str(field["x-source"]))
    return "; ".join(parts) + "."


_LIMITS = {"minimum": "at least", "exclusiveMinimum": "above", "maximum": "at most", "exclusiveMaximum": "below"}


def _limits(field: Schema) -> str:
    """Range of a number; empty where it has none."""
    return " and ".join(f"{words} {field[limit]:,.15g}" for limit, words in _LIMITS.items() if field.get(limit) is not None)


def _length(field: Schema) -> str:
    """How many items a sequence may have; empty where nothing is said of it."""
    low, high = field.get("minItems", 0), field.get("maxItems")
    if high is None:
        return f"at least {low:,} items" if low else ""
    return f"{high:,} items" if low == high else f"{low:,} to {high:,} items"


def _name_of(reference: Schema) -> str:
    return str(reference["$ref"]).rpartition("/")[2]


def operations(document: Schema) -> str:
    """The description of every call, and the methods of both clients."""
    calls, waiting, awaiting = [], [], []
    for path, item in document["paths"].items():
        for verb, operation in item.items():
            name = operation["operationId"]
            if name in LEFT_OUT:
                continue
            forms = operation["responses"]["200"]["content"]
            for media_type in forms:
                method = name if media_type == JSON else DOCUMENTS[name, media_type]
                call = _Method(document, operation, method, path, verb.upper(), media_type)
                calls.append(call.description())
                waiting.append(call.method("def", "self._perform"))
                awaiting.append(call.method("async def", "await self._perform"))
    head = (
        MARK + '"""The operations of the service: how each is called, and a method for it in both clients."""\n\n'
        "from __future__ import annotations\n\nfrom abc import ABC, abstractmethod\n"
        "from collections.abc import Sequence\n"
        "from decimal import Decimal\nfrom typing import TYPE_CHECKING, Any, Literal, TypeVar\n\n"
        "from wattpair.call import Call, Request\n\nif TYPE_CHECKING:\n    from wattpair.codec import Fields, Numbers\n"
        "    from wattpair.document import Document\n    from wattpair.models import (\n"
    )
    names = [*document["components"]["schemas"], "Liveness"]  # the formatter takes out those that no method names
    head += "".join(f"        {name},\n" for name in sorted(names)) + '    )\n\nR = TypeVar("R")\n\n'
    body = "CALLS: dict[str, Call] = {\n" + "".join(calls) + "}\n"
    body += _class("Operations", "The methods of a client whose calls return results.", "def", waiting)
    body += _class("AsyncOperations", "The methods of a client whose calls are coroutines.", "async def", awaiting)
    return _formatted(head + body)


def _class(name: str, said: str, define: str, methods: list[str]) -> str:
    return (
        f'\n\nclass {name}(ABC):\n    """{said}"""\n\n'
        f"    @abstractmethod\n    {define} _perform(self, request: Request[R]) -> R:\n"
        f'        """Carry a request out."""\n\n' + "\n".join(methods)
    )


class _Method:
    """One method of the clients."""

    def __init__(self, document: Schema, operation: Schema, name: str, path: str, verb: str, media_type: str) -> None:
        self._operation, self._name, self._path, self._verb, self._media_type = operation, name, path, verb, media_type
        content = operation.get("requestBody", {}).get("content", {}).get(JSON, {})
        self._request_name = _name_of(content["schema"]) if content else None
        parameters = [each for each in operation.get("parameters", ()) if each["in"] == "path"]
        in_path = {each["name"]: each["schema"] | {"description": each["description"]} for each in parameters}
        alone = {"properties": in_path, "required": list(in_path), "additionalProperties": False}
        self._request: Schema = document["components"]["schemas"].get(self._request_name, alone)
        answer = operation["responses"]["200"]["content"][media_type]["schema"]
        self._result = "Document" if media_type != JSON else _name_of(answer) if "$ref" in answer else "Liveness"

    def description(self) -> str:
        """Its entry among the calls."""
        answers = self._operation["responses"].items()
        other = [int(status) for status, each in answers if status != "200" and JSON in each.get("content", {})]
        parts = list(map(repr, (self._name, self._verb, self._path, self._request_name, self._result)))
        if self._media_type != JSON:
            parts.append(f"media_type={self._media_type!r}")
        if other:
            parts.append(f"also={other[0]}")
        return f"    {self._name!r}: Call({', '.join(parts)}),\n"

    def method(self, define: str, perform: str) -> str:
        """Its source."""
        fields, required = self._request["properties"], self._request.get("required", ())
        names = sorted(fields, key=lambda name: name not in required)
        arguments = [f"{name}: {_annotation(fields[name])}" + ("" if name in required else " | None = None") for name in names]
        signature = ", ".join(["self", *(["*", *arguments] if arguments else [])])
        passed = ", ".join(f"{name}={name}" for name in names)
        docs = textwrap.indent(self._documentation(names), "        ")
        call = f"CALLS[{self._name!r}].request({passed})"
        return (
            f'    {define} {self._name}({signature}) -> {self._result}:\n        """{docs.strip()}\n        """\n'
            f"        answer: {self._result} = {perform}({call})\n        return answer\n"
        )

    def _documentation(self, names: list[str]) -> str:
        operation = self._operation
        said = [operation["summary"].rstrip(".") + "."]
        if self._media_type != JSON:
            said = [operation["responses"]["200"]["content"][self._media_type]["schema"]["description"].rstrip(".") + "."]
        said.append("\n".join(textwrap.fill(each, WIDTH - 8) for each in operation["description"].split("\n")))
        if names:
            ordered = self._request | {"properties": {name: self._request["properties"][name] for name in names}}
            said.append("Parameters\n----------\n" + "\n".join(_field_lines(ordered)))
        said.append(f"Returns\n-------\n{self._result}")
        return "\n\n".join(said)


def _annotation(field: Schema) -> str:
    """The type of an argument."""
    if "$ref" in field:
        return f"{_name_of(field)} | Fields"
    if "oneOf" in field:
        return " | ".join([*map(_name_of, field["oneOf"]), "Fields"])
    if "enum" in field and LISTED not in field:
        return f"Literal{field['enum']!r}"
    if field["type"] == "array":
        inner = field["items"]
        return "Numbers" if inner.get("type") == "number" else f"Sequence[{_annotation(inner)}]"
    if field.get("format") == "decimal":
        return "Decimal | str"
    return (_SCALARS | {"object": "Fields"})[field["type"]]


def _formatted(text: str) -> str:
    """As the project's formatter writes it, without what is not used."""
    for action in (("check", "--fix-only", "--select", "F401,I001,RUF022"), ("format",)):
        command = [sys.executable, "-m", "ruff", *action, "--stdin-filename", str(PACKAGE / "generated.py"), "-"]
        text = subprocess.run(command, input=text, check=True, capture_output=True, text=True, cwd=HERE.parent).stdout
    return text


if __name__ == "__main__":
    raise SystemExit(main())
