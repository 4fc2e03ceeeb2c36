"""What an answer is that people read or other programs open: the customer's sheet, the parts as CSV."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """An answer that is no JSON: `media_type` is "text/html", "application/pdf" or "text/csv", `content` its bytes."""

    media_type: str
    content: bytes

    def __repr__(self) -> str:
        return f"Document(media_type={self.media_type!r}, content=<{len(self.content)} bytes>)"

    @property
    def text(self) -> str:
        """The content of HTML or CSV as text; raises ValueError for a PDF, which is none."""
        if not self.media_type.startswith("text/"):
            raise ValueError(f"a document of {self.media_type} has no text; its bytes are in content")
        return self.content.decode()

    def save(self, path: Path | str) -> Path:
        """Write the content to a file, which is replaced where there is one; gives its path."""
        if not isinstance(path, (str, Path)):
            raise TypeError(f"path: {path!r} ({type(path).__name__}) was given; allowed is a path")
        file = Path(path)
        file.write_bytes(self.content)
        return file


ENDS = {"text/html": (b"<!doctype html", b"</html>"), "application/pdf": (b"%PDF-", b"%%EOF"), "text/csv": (b"", b"\r\n")}
"""How a whole document begins and ends."""


def is_whole(document: Document) -> bool:
    """Whether a document begins and ends as its form does: half a sheet must not reach a customer."""
    first, last = ENDS[document.media_type]
    return document.content[: len(first)].lower() == first.lower() and document.content.endswith((last, last + b"\n"))
