"""Serves plotly.min.js out of the installed plotly package, as static file plotly/plotly.min.js, and nothing
else of that package: its data sets and the notebook bundle would double what is collected."""

from collections.abc import Iterable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.finders import BaseFinder
from django.core.checks import CheckMessage
from django.core.files.storage import FileSystemStorage

PREFIX, SCRIPT = "plotly", "plotly.min.js"


def package_data() -> Path:
    """The folder of the package that holds its script; found without importing the package."""
    spec = find_spec("plotly")
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError("plotly is not installed")
    return Path(spec.origin).parent / "package_data"


class ChartScriptFinder(BaseFinder):
    """Finds plotly/plotly.min.js."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.storage = FileSystemStorage(location=package_data())
        self.storage.prefix = PREFIX  # where collectstatic puts it

    def check(self, **kwargs: Any) -> list[CheckMessage]:
        return []

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        found = [self.storage.path(SCRIPT)] if path == f"{PREFIX}/{SCRIPT}" else []
        return found if find_all else (found[0] if found else [])

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, FileSystemStorage]]:
        yield SCRIPT, self.storage
