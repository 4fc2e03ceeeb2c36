"""A field that holds one of several kinds of object; `kind` says which."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import Schema, ValidationError, fields

from wattpair_service.api.schemas.fields import Assumed
from wattpair_service.words.catalogue import english

KIND = "kind"


class Choice(fields.Field[Any]):
    """An object whose `kind` says which schema it follows."""

    def __init__(self, kinds: Mapping[str, type[Schema]], description: str, *, default: object, assumed: Assumed) -> None:
        metadata = {"description": description, "x-assumption-source": english(assumed.source)}
        super().__init__(load_default=default, allow_none=False, metadata=metadata)
        self.assumed = assumed
        self.kinds = {kind: schema() for kind, schema in kinds.items()}
        self.allowed = "an object whose kind is " + " or ".join(f'"{kind}"' for kind in kinds)

    def schema_of(self, value: Mapping[str, Any]) -> Schema:
        """The schema of a valid value."""
        return self.kinds[value[KIND]]

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if not isinstance(value, dict):
            raise ValidationError(self.allowed)
        kind = value.get(KIND)
        if not isinstance(kind, str) or kind not in self.kinds:
            raise ValidationError({KIND: ["one of " + ", ".join(f'"{name}"' for name in self.kinds)]})
        return self.kinds[kind].load(value)
