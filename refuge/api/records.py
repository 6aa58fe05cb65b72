"""Records over the API: list, read, enter, correct, strike out. Nothing is deleted: what stood there is kept."""

from collections.abc import Mapping
from functools import cache
from typing import Any, cast
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiResponse, extend_schema, extend_schema_view
from rest_framework import mixins, serializers, status, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from refuge.api.errors import Conflict, refuse_invalid
from refuge.api.fields import StrictSerializer, own_fields
from refuge.api.queries import RecordQuery, asked
from refuge.people.models import User
from refuge.plain_values import bound
from refuge.rounds import services
from refuge.rounds.recording import Recorder, recorder, recorder_of
from refuge.rounds.striking import record_strike_out

RECORD_FIELDS = ("uuid", "at", "entered_at", "by", "by_name", "note", "voided_at")


class RecordOut(serializers.ModelSerializer):
    """What every record shows besides its own columns: Meta.fields = [*RECORD_FIELDS, …]."""

    by_name = serializers.CharField(source="by.name", default="", read_only=True)


class RecordIn(StrictSerializer):
    """What every record takes besides the fields of its form; a subclass adds what names the subject."""

    uuid = serializers.UUIDField(help_text="Made by the client. The same one twice is one record.")
    at = serializers.DateTimeField(required=False, help_text="When it happened. Now, if left out.")
    note = serializers.CharField(required=False, allow_blank=True, max_length=10_000)

    recorder_key = ""  # whose form gives the further fields; declared fields take precedence

    def get_fields(self) -> dict[str, serializers.Field]:
        generated = own_fields(recorder(self.recorder_key).form_class) if self.recorder_key else {}
        return {**generated, **super().get_fields()}


class StrikeOutIn(StrictSerializer):
    """Why a record is struck out."""

    reason = serializers.CharField(max_length=100, help_text="Why. It stays beside the record.")


@cache
def amendment_of(input_class: type[RecordIn], subject: tuple[str, ...]) -> type[StrictSerializer]:
    """The same input with the reason, without what no amendment changes: the uuid and the subject."""

    def get_fields(self: Any) -> dict[str, serializers.Field]:
        fields = {n: f for n, f in input_class().get_fields().items() if n not in ("uuid", *subject)}
        for field in fields.values():
            field.required = False
        reason = serializers.CharField(max_length=100, help_text="Why. It stays beside the earlier version.")
        return {**fields, "reason": reason}

    name = f"{input_class.__name__.removesuffix('In')}Amendment"
    return type(name, (StrictSerializer,), {"get_fields": get_fields, "__doc__": amendment_of.__doc__})


class RecordViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, viewsets.GenericViewSet):
    """One kind of record: what a subclass states is its serializers, its query and how a subject is named."""

    lookup_field = "uuid"
    lookup_value_converter = "uuid"
    input_class: type[RecordIn]
    query_class: type[RecordQuery]
    subject_fields: tuple[str, ...] = ()
    choosing_fields: tuple[str, ...] = ()  # further ones that only say which form it is
    form_names: Mapping[str, str] = {}  # API's name -> form's name, where they differ
    form_factors: Mapping[str, float] = {}  # what the API's number is multiplied by for the form

    def get_queryset(self) -> QuerySet[Any]:
        """A list holds what stands; a single record is found when it was struck out as well."""
        rows: QuerySet[Any] = super().get_queryset()
        if self.action == "list":
            return asked(self.query_class, self.request).narrow(rows.filter(voided_at__isnull=True))
        return rows

    def recorder_for(self, given: Mapping[str, Any]) -> tuple[Recorder, int]:
        """Which recorder enters this, and about which subject."""
        raise NotImplementedError

    def create(self, request: Request) -> Response:
        """Enter a record: 201, or 200 with the record that the same uuid made before; 409 if that says otherwise."""
        entry = self.input_class(data=request.data)
        entry.is_valid(raise_exception=True)
        given = entry.validated_data
        own, subject_id = self.recorder_for(given)
        form = own.form(subject_id)
        try:
            cleaned = self.judged(form, self.without_subject(given, form))
        except ValidationError:  # of a repeat: what it is judged by may have changed since
            earlier = self.queryset.model.everything.filter(uuid=given["uuid"]).first()
            if earlier is None or getattr(earlier, own.subject_field) != subject_id:
                raise
            return self.shown(earlier, status.HTTP_200_OK)
        saved = services.record_new(
            kind=own, subject_id=subject_id, by=cast(User, request.user), cleaned=cleaned
        )
        return self.shown(saved.record, status.HTTP_201_CREATED if saved.is_new else status.HTTP_200_OK)

    def partial_update(self, request: Request, uuid: UUID) -> Response:
        """Correct a record, with the reason: one's own, or anybody's for staff."""
        record = self.get_object()
        amendment = amendment_of(self.input_class, self.subject_fields)(data=request.data)
        amendment.is_valid(raise_exception=True)
        given = dict(amendment.validated_data)
        reason = given.pop("reason")
        own = self.recorder_that_amends(record)
        cleaned = self.judged(own.amend_form(record), self.with_stored(record, given), amends=True)
        amended = services.record_amend(
            record=record, by=cast(User, request.user), reason=reason, cleaned=cleaned
        )
        return self.shown(amended, status.HTTP_200_OK)

    @action(detail=True, methods=["post"], url_path="strike-out")
    def strike_out(self, request: Request, uuid: UUID) -> Response:
        """It did not happen, or not here: it stays readable and counts no more. A repeat changes nothing."""
        record = self.get_object()
        told = StrikeOutIn(data=request.data)
        told.is_valid(raise_exception=True)
        reason = told.validated_data["reason"]
        record_strike_out(record=record, by=cast(User, request.user), reason=reason)
        return self.shown(record, status.HTTP_200_OK)

    def without_subject(self, given: Mapping[str, Any], form: Any) -> dict[str, Any]:
        """The values without those that only say what it is about and which form it is."""
        spoken = {*self.subject_fields, *self.choosing_fields} - set(form.fields)
        return {name: value for name, value in given.items() if name not in spoken}

    def recorder_that_amends(self, record: Any) -> Recorder:
        own = recorder_of(record)
        if own is None or not own.can_amend:
            raise Conflict("This record is a step that cannot be rewritten. Enter what happened next.")
        if record.voided_at is not None:
            raise Conflict("This record was struck out. Enter it anew instead of amending it.")
        return own

    def with_stored(self, record: Any, given: dict[str, Any]) -> dict[str, Any]:
        """An amendment's values; a hook for a field that changes how the stored ones are to be read."""
        return given

    def judged(self, form: Any, given: Mapping[str, Any], *, amends: bool = False) -> dict[str, Any]:
        """What the form makes of the values. ValidationError, keyed by field, for what it refuses.

        amends: what is left out stays as the form has it.
        """
        foreign = [n for n, v in given.items() if v is not None and self._formal(n) not in form.fields]
        if foreign:
            raise ValidationError(
                {name: ["This does not belong to this kind of record."] for name in foreign}
            )
        values = {self._formal(name): self._in_form_units(name, value) for name, value in given.items()}
        bound(form, {**form.initial, **values} if amends else values)
        refuse_invalid(form, {formal: name for name, formal in self.form_names.items()})
        return cast(dict[str, Any], form.cleaned_data)

    def _formal(self, name: str) -> str:
        return self.form_names.get(name, name)

    def _in_form_units(self, name: str, value: Any) -> Any:
        return (
            value
            if value is None
            else value * self.form_factors[name]
            if name in self.form_factors
            else value
        )

    def shown(self, record: Any, code: int) -> Response:
        """The record as lists show it, with what it refers to."""
        stored = self.queryset.get(pk=record.pk)
        return Response(self.get_serializer(stored).data, status=code)


def record_schema(title: str, view: type[RecordViewSet]) -> type[RecordViewSet]:
    """Describe a record viewset for the OpenAPI document."""
    out: Any = view.serializer_class
    again = OpenApiResponse(out, description="The same uuid made this record before.")
    describe = extend_schema_view(
        list=extend_schema(summary=f"{title}: those that stand", parameters=[view.query_class]),
        retrieve=extend_schema(summary=f"{title}: one of them"),
        create=extend_schema(
            summary=f"{title}: enter one",
            request=view.input_class,
            responses={
                201: out,
                200: again,
                409: OpenApiResponse(description="The uuid made another record."),
            },
        ),
        partial_update=extend_schema(
            summary=f"{title}: correct one",
            request=amendment_of(view.input_class, view.subject_fields),
            responses=out,
        ),
        strike_out=extend_schema(summary=f"{title}: strike one out", request=StrikeOutIn, responses=out),
    )
    return cast(type[RecordViewSet], describe(view))
