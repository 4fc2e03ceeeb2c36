"""Fields that hold one of several kinds of value."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import RAISE, Schema, ValidationError, fields, missing

from wattpair_service.api.schemas.fields import Assumed, Text
from wattpair_service.engineering.sentences import LANGUAGES

KIND = "kind"
WORDED_LONGEST = 500
"""Characters of a text of a region's rules."""


class Choice(fields.Field[Any]):
    """An object whose `kind` says which schema it follows."""

    def __init__(self, kinds: Mapping[str, type[Schema]], description: str, *, default: object, assumed: Assumed) -> None:
        metadata = {"description": description, "x-assumption-source": assumed.source}
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


class TextByLanguageSchema(Schema):
    """A text in each language; the English one stands for one that is left out."""

    class Meta:
        """Other languages are errors."""

        unknown = RAISE

    en = Text("In English", longest=WORDED_LONGEST)
    de = Text("In German", longest=WORDED_LONGEST, required=False)


class Worded(fields.Field[Any]):
    """A text that is the same in every language, or an object with one for each."""

    def __init__(self, description: str, *, required: bool = True) -> None:
        super().__init__(required=required, load_default=missing if required else None, metadata={"description": description})
        self.text, self.by_language = Text(description, longest=WORDED_LONGEST), TextByLanguageSchema()
        english, *others = LANGUAGES
        self.allowed = (
            f"{self.text.allowed}; or an object with such a text for {english} and, if wanted, for {', '.join(others)}"
        )

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        try:
            if isinstance(value, dict):
                self.by_language.load(value)
            else:
                self.text.deserialize(value)
        except ValidationError:
            raise ValidationError(self.allowed) from None
        return value
