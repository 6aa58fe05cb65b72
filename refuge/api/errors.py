"""Refusals of the services as answers of the API: the sentence for the person, and a fitting status."""

from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS
from django.core.exceptions import ValidationError as DjangoValidationError
from django.forms import BaseForm
from rest_framework.exceptions import APIException, PermissionDenied, ValidationError
from rest_framework.response import Response
from rest_framework.settings import api_settings
from rest_framework.views import exception_handler

from refuge.errors import ClearmereError
from refuge.records import Amended
from refuge.rounds.services import NotAllowed, TaskError
from refuge.units import spoken


class Conflict(APIException):
    """What was asked no longer fits what stands."""

    status_code = 409
    default_code = "conflict"


def handle(error: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's handler, which also knows the refusals of our services."""
    return exception_handler(_as_api_error(error), context)


def _as_api_error(error: Exception) -> Exception:
    if isinstance(error, NotAllowed):
        return PermissionDenied(spoken(str(error)))
    if isinstance(error, TaskError | Amended):
        return Conflict(spoken(str(error)))
    if isinstance(error, ClearmereError):
        return ValidationError({api_settings.NON_FIELD_ERRORS_KEY: [spoken(str(error))]})
    if isinstance(error, DjangoValidationError):
        return ValidationError(_by_field(getattr(error, "message_dict", {NON_FIELD_ERRORS: error.messages})))
    return error


def _by_field(errors: dict[str, list[str]]) -> dict[str, list[str]]:
    return {
        api_settings.NON_FIELD_ERRORS_KEY if name == NON_FIELD_ERRORS else name: messages
        for name, messages in errors.items()
    }


def refuse_invalid(form: BaseForm, names: dict[str, str] | None = None) -> None:
    """Raise what is wrong with a form, keyed by field. names: form's name -> API's name, where they differ."""
    if not form.is_valid():
        called = {(names or {}).get(name, name): list(found) for name, found in form.errors.items()}
        raise ValidationError(_by_field(called))
