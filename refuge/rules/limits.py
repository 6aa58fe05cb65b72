"""The numbers rules go by. Each has a default with its source; a manager's value goes before it.

The narrowest value in force wins: filter, then circuit, then site, then the default.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from refuge.errors import ClearmereError, OutOfRange

PARTS = ("_share", "_chance")
COUNTED = ("days", "tests")
COMMON_PRACTICE = "common practice, no source"


class UnknownLimit(ClearmereError, KeyError):
    """A rule asked for a limit nobody defined: a mistake in the program, not in the data."""


@dataclass(frozen=True, slots=True)
class LimitSpec:
    """One limit: what it means, its unit and bounds, its default and where that comes from."""

    key: str
    title: str
    default: float
    unit: str
    low: float
    high: float
    source: str = COMMON_PRACTICE
    scopes: tuple[str, ...] = ("site", "circuit")

    @property
    def is_part(self) -> bool:
        """Whether it is a share or a chance: kept as 0 to 1, said and typed as percent."""
        return self.key.endswith(PARTS)

    @property
    def typed_unit(self) -> str:
        """The unit in which a value is typed: 'days', '% of capacity'."""
        return f"% {self.unit}".rstrip() if self.is_part else self.unit

    def number(self, value: float) -> str:
        """A value as it is typed: '30' of a share of 0.3."""
        return f"{value * 100:.6g}" if self.is_part else f"{value:g}"

    def said(self, value: float) -> str:
        """A value with its unit, as it is read: '30 % of the void', '1 day', '14 days'."""
        if self.is_part:
            return f"{self.number(value)}\u00a0% {self.unit}".rstrip()
        one = value == 1 and self.unit in COUNTED
        return f"{value:g} {self.unit.removesuffix('s') if one else self.unit}".rstrip()

    @property
    def range_words(self) -> str:
        """What a value may be: 'from 1 to 90 days', 'from 5 to 90 % of the void'."""
        return f"from {self.number(self.low)} to {self.said(self.high)}"

    def check(self, value: float) -> float:
        """The value, if it lies within the limit's own bounds; OutOfRange otherwise (NaN too)."""
        if not self.low <= value <= self.high:
            raise OutOfRange(self.title, value, self.range_words)
        return value


@dataclass(frozen=True, slots=True)
class Setting:
    """A limit's value for one subject, and whose it is: 'default', 'site', 'circuit' or 'filter'."""

    key: str
    value: float
    unit: str
    origin: str


Overrides = Mapping[tuple[str, str, int], float]  # (key, scope kind, scope id) -> value


class LimitTable:
    """All limits by key, in the order they were defined."""

    def __init__(self) -> None:
        self._specs: dict[str, LimitSpec] = {}

    def define(self, spec: LimitSpec) -> LimitSpec:
        """Add a limit. Raises ValueError for a key defined twice or a default outside its own bounds."""
        if spec.key in self._specs:
            raise ValueError(f"limit {spec.key!r} is defined twice")
        spec.check(spec.default)
        self._specs[spec.key] = spec
        return spec

    def __getitem__(self, key: str) -> LimitSpec:
        try:
            return self._specs[key]
        except KeyError:
            raise UnknownLimit(f"no limit is called {key!r}") from None

    def __contains__(self, key: str) -> bool:
        return key in self._specs

    def __iter__(self) -> Iterator[LimitSpec]:
        return iter(self._specs.values())

    def resolve(
        self, key: str, overrides: Overrides, *, circuit_id: int | None = None, filter_id: int | None = None
    ) -> Setting:
        """The value in force for one subject."""
        spec = self[key]
        for kind, scope_id in (("filter", filter_id), ("circuit", circuit_id), ("site", 0)):
            if scope_id is not None and (key, kind, scope_id) in overrides:
                return Setting(key, overrides[key, kind, scope_id], spec.unit, kind)
        return Setting(key, spec.default, spec.unit, "default")


limits = LimitTable()


class LimitsFor:
    """The limits of one subject, as a rule reads them: `limits["key"]` is a number.

    It remembers what was read, so that a task can say which values it went by.
    """

    __slots__ = ("_circuit_id", "_filter_id", "_overrides", "_table", "used")

    def __init__(
        self,
        overrides: Overrides,
        *,
        circuit_id: int | None = None,
        filter_id: int | None = None,
        table: LimitTable = limits,
    ) -> None:
        self._overrides = overrides
        self._circuit_id = circuit_id
        self._filter_id = filter_id
        self._table = table
        self.used: dict[str, Setting] = {}

    def __getitem__(self, key: str) -> float:
        setting = self.used.get(key)
        if setting is None:
            setting = self._table.resolve(
                key, self._overrides, circuit_id=self._circuit_id, filter_id=self._filter_id
            )
            self.used[key] = setting
        return setting.value
