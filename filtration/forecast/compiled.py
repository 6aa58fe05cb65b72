"""When and where the forecast's step is compiled.

Importing the forecast compiles nothing. The first run does, in some seconds, or reads what an earlier process
compiled, if a folder was named that may be written to. The installed package itself is never written to.
"""

import hashlib
import importlib
from contextlib import AbstractContextManager, nullcontext
from functools import cache
from pathlib import Path
from typing import Any

from filelock import FileLock

from enclosures import chemistry
from filtration import nitrification, solids, survival
from husbandry import bioload

_folder: list[Path] = []
_HERE = Path(__file__).parent
_SOURCES = (
    *(_HERE / name for name in ("kernel.py", "hour.py", "step.py", "jit.py", "layout.py", "constants.py")),
    *(Path(str(module.__file__)) for module in (chemistry, nitrification, solids, survival, bioload)),
)


def keep_compiled_in(folder: Path) -> None:
    """Name a writable folder for compiled code, before the first forecast; later calls change nothing."""
    _folder[:] = [folder]


@cache
def kernel() -> Any:
    """The compiled module, loaded on first use. While one process compiles it, others wait and load what came of it."""
    with _alone():
        return importlib.import_module("filtration.forecast.kernel")


def prepare() -> None:
    """Compile or load now what the first forecast would compile or load."""
    kernel()


def _alone() -> AbstractContextManager[Any]:
    if not _folder:
        return nullcontext()
    _folder[0].mkdir(parents=True, exist_ok=True)
    return FileLock(_folder[0] / "compiling.lock")


def prepare_numba() -> bool:
    """Point numba at the folder; False when none was named, so that nothing is written anywhere.

    The folder's name carries a digest of the sources: numba itself looks at one file only and would take code
    compiled with other constants for current.
    """
    if not _folder:
        return False
    import numba

    place = _folder[0] / f"forecast-{step_version()}"
    place.mkdir(parents=True, exist_ok=True)
    setattr(numba.config, "CACHE_DIR", str(place))  # noqa: B010 (numba makes its settings at run time)
    return True


@cache
def step_version() -> str:
    """A digest of the sources that the step, and what its members are drawn from, come from."""
    digest = hashlib.sha256()
    for source in _SOURCES:
        digest.update(source.read_bytes())
    return digest.hexdigest()[:12]
