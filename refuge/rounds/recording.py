"""How a finished task becomes a record of its app, and how that record is corrected or taken back.

Apps register recorders in their recorders.py; rules name them by key.
"""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.apps import apps

from refuge import records
from refuge.forms import RecordForm
from refuge.records import TAKEN_BACK

CLOSE_ENOUGH = 1e-5  # what is shown rounded and sent back unchanged is no change


@dataclass(frozen=True)
class Saved:
    """A record that was made: the row itself and what was done, in a few words for the list.

    is_new: whether this entry made it; a repeat did not.
    """

    record: Any
    summary: str
    is_new: bool = True


@dataclass(frozen=True)
class Lead:
    """A page that a record leads its author to, and why."""

    words: str
    url: str


@dataclass(frozen=True)
class About:
    """Whom or what a record is about: its name and its page."""

    label: str
    path: str


class Recorder:
    """One kind of record that can be entered, for a task or for its own sake.

    key           name that rules give as `recorder`
    title         what is being recorded
    subject       kind of subject its `subject_id` names
    subject_model "app.Model" of that subject
    subject_field column of the record that holds the subject's id
    role          least role that may enter it
    record_model  "app.Model", so that a completion can find its record again
    fields        the form's fields that are columns of the record under the same name
    icon          how its tasks are drawn in a list
    can_take_back False where the record set off something that no undo and no striking out reverts
    can_amend     False where the record itself is a step that cannot be rewritten
    on_pages      False where it is only for tasks: pages of things offer another for the same record
    """

    key: str
    title: str
    subject: str
    subject_model: str
    subject_field: str
    role: str = "volunteer"
    record_model: str
    form_class: type[RecordForm]
    fields: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    icon: str = "note"
    can_take_back = True
    can_amend = True
    on_pages = True

    def form(
        self,
        subject_id: int,
        *,
        data: Any = None,
        files: Any = None,
        system: str = "metric",
        prefill: dict[str, Any] | None = None,
        **options: Any,
    ) -> RecordForm:
        """The form for one subject, bound when there is data. prefill: of its task, if there is one."""
        initial = {**self.initial(subject_id), **(prefill or {})}
        options = {**self.form_options(subject_id), **options}
        return self.form_class(data, files, system=system, initial=initial, **options)

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

    def tap_word(self, label: str, prefill: dict[str, Any]) -> str:
        """What the single button of a task says; may hold marks. label: that of the rule."""
        return label

    def tap_value(self, prefill: dict[str, Any]) -> str:
        """What the button sends along: what it says was done, in case the task says something else by then."""
        return "1"

    def tapped(self, prefill: dict[str, Any], value: str) -> dict[str, Any]:
        """The task's prefill, as the button that was pressed said it. value: as it was sent, by whoever."""
        return prefill

    def about(self, subject_id: int) -> About:
        """Name and page of a subject. Raises ObjectDoesNotExist when there is none of this id."""
        subject: Any = apps.get_model(self.subject_model)._default_manager.get(pk=subject_id)
        return About(str(subject), subject.get_absolute_url())

    def lead(self, record_id: int) -> Lead | None:
        """The page to go on to after this record was made, if it asks for something at once."""
        return None

    def words(self, record: Any) -> str:
        """What was done, in a few words."""
        raise NotImplementedError

    def owns(self, record: Any) -> bool:
        """Whether a record of this model was entered by this recorder."""
        return True

    def columns(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        """The columns of the record that the form's own fields fill."""
        return {name: cleaned[name] for name in self.fields}

    def made(self, record: Any, subject_id: int, cleaned: dict[str, Any]) -> bool:
        """Whether a stored record, as it was first entered, is what this entry makes."""
        first = records.first_version(record)
        same_subject = getattr(first, self.subject_field) == subject_id
        return same_subject and not any(
            differs(records.stored_value(first, name), getattr(value, "pk", value))
            for name, value in self.columns(cleaned).items()
        )

    def values(self, record: Any) -> dict[str, Any]:
        """What the form shows of a stored record."""
        return {name: getattr(record, name) for name in self.fields}

    def amend_options(self, record: Any) -> dict[str, Any]:
        """Further arguments of the form class when a record is corrected."""
        return self.form_options(getattr(record, self.subject_field))

    def amend_form(self, record: Any, *, data: Any = None, system: str = "metric") -> RecordForm:
        """The form that corrects a record: it starts with what is stored."""
        initial = {**self.values(record), "at": record.at, "note": record.note}
        form = self.form_class(data, system=system, initial=initial, **self.amend_options(record))
        form.fields["at"].required, form.fields["at"].help_text = True, ""
        return form

    def amend(self, record: Any, *, by: Any, reason: str, cleaned: dict[str, Any]) -> Any:
        """Correct a record by its app's service; the same values again change nothing."""
        wanted = {**self.columns(cleaned), "at": cleaned["at"], "note": cleaned["note"]}
        changes = {name: value for name, value in wanted.items() if differs(getattr(record, name), value)}
        return self.amend_service(record=record, by=by, reason=reason, **changes) if changes else record

    def amend_service(self, *, record: Any, by: Any, reason: str, **changes: Any) -> Any:
        """The app's service that corrects it."""
        raise NotImplementedError

    def take_back(self, record: Any, *, by: Any, reason: str = TAKEN_BACK) -> None:
        """Strike out a record, and what followed from it. It stays in its history."""
        records.void(record=record, by=by, reason=reason)

    def waters(self, record: Any) -> Iterable[int | None]:
        """The circuits whose plan goes by a record."""
        raise NotImplementedError


def differs(stored: Any, typed: Any) -> bool:
    """Whether a typed value changes a stored one, beyond what rounding for the screen changes."""
    if isinstance(stored, float) and isinstance(typed, int | float):
        return not math.isclose(stored, typed, rel_tol=CLOSE_ENOUGH, abs_tol=1e-9)
    if isinstance(stored, datetime) and isinstance(typed, datetime):
        return stored.replace(second=0, microsecond=0) != typed.replace(second=0, microsecond=0)
    return bool(stored != typed)


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
    """Recorders that the page of one kind of subject offers a person; `may` answers for a role."""
    return [each for each in recorders() if each.subject == subject and each.on_pages and may(each.role)]


def recorder_of(record: Any) -> Recorder | None:
    """The recorder that a stored record can be corrected with, if there is one."""
    kind = record._meta.label
    own = (each for each in recorders() if each.record_model == kind and each.owns(record))
    return next(own, None)
