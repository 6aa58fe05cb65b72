"""How a finished task becomes a record of its app. Apps register recorders in their recorders.py."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from refuge.forms import RecordForm


@dataclass(frozen=True)
class Saved:
    """A record that was made: the row itself and what was done, in a few words for the list."""

    record: Any
    summary: str


class Recorder:
    """One kind of record that can be entered, for a task or for its own sake.

    key         name that rules give as `recorder`
    title       what is being recorded
    subject     kind of subject its `subject_id` names
    role        least role that may enter it
    record_model  "app.Model", so that a completion can find its record again
    """

    key: str
    title: str
    subject: str
    role: str = "volunteer"
    record_model: str
    form_class: type[RecordForm]
    cautions: tuple[str, ...] = ()

    def form(
        self,
        subject_id: int,
        *,
        data: Any = None,
        files: Any = None,
        system: str = "metric",
        prefill: dict[str, Any] | None = None,
    ) -> RecordForm:
        """The form for one subject, bound when there is data."""
        initial = {**self.initial(subject_id), **(prefill or {})}
        return self.form_class(data, files, system=system, initial=initial, **self.form_options(subject_id))

    def initial(self, subject_id: int) -> dict[str, Any]:
        """What the form starts with."""
        return {}

    def form_options(self, subject_id: int) -> dict[str, Any]:
        """Further arguments of the form class."""
        return {}

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        """Write the record by its app's service. `cleaned` holds at, uuid, note and the form's own fields."""
        raise NotImplementedError

    def one_tap(self, subject_id: int, prefill: dict[str, Any]) -> dict[str, Any] | None:
        """The cleaned values of a tap with nothing typed, or None when something must be typed."""
        return None


_recorders: dict[str, Recorder] = {}


def register(recorder_class: Callable[[], Recorder]) -> Callable[[], Recorder]:
    """Class decorator: make the recorder known by its key. Raises ValueError for a key used twice."""
    recorder = recorder_class()
    if recorder.key in _recorders:
        raise ValueError(f"recorder {recorder.key!r} is registered twice")
    _recorders[recorder.key] = recorder
    return recorder_class


def recorder(key: str) -> Recorder:
    """The recorder of this key. KeyError if there is none: the system checks name such rules."""
    return _recorders[key]


def recorders() -> Iterator[Recorder]:
    return iter(_recorders[key] for key in sorted(_recorders))


def recorders_for(subject: str, may: Callable[[str], bool]) -> Iterable[Recorder]:
    """Recorders of one kind of subject that a person may use; `may` answers for a role."""
    return [each for each in recorders() if each.subject == subject and may(each.role)]
