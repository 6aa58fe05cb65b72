"""A page with one form that makes or changes one thing: typed in the person's units, errors beside the field."""

from collections.abc import Callable
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from refuge.errors import ClearmereError
from refuge.forms import UnitModelForm
from refuge.people.models import User

Save = Callable[[Any], Any]


def model_form(
    request: HttpRequest, form_class: type[forms.ModelForm], instance: Any = None, **options: Any
) -> forms.ModelForm:
    """The form, bound when something was sent, in the units of whoever fills it in."""
    if issubclass(form_class, UnitModelForm):
        options["system"] = cast(User, request.user).unit_system
    data, files = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    return form_class(data, files, instance=instance, **options)


def edit_page(
    request: HttpRequest,
    form: forms.ModelForm,
    save: Save,
    *,
    title: str,
    done: str,
    back: str,
    go_to: Callable[[Any], str] | None = None,
    template: str = "pages/edit.html",
    **context: Any,
) -> HttpResponse:
    """Show a form, or save what it holds and go on. An error of the service stands above the fields."""
    if request.method == "POST" and form.is_valid():
        try:
            saved = save(form)
        except ClearmereError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, done.format(saved))
            return redirect(go_to(saved) if go_to else back)
    context |= {"form": form, "title": title, "back": back, "is_multipart": form.is_multipart()}
    return render(request, template, context, status=422 if form.errors else 200)
