"""A field is wired so that a screen reader hears its unit, its help and its error, and a phone its keypad."""

import re

import pytest
from django import forms
from django.template import Context, Template

from refuge.forms import QuantityField, UnitForm
from refuge.templatetags import look


class WeighingForm(forms.Form):
    weight = QuantityField("mass", label="Weight", help_text="In the sling.", high=90)
    flow = forms.FloatField(widget=forms.TextInput, required=False)
    count = forms.IntegerField(widget=forms.TextInput, required=False)
    note = forms.CharField(required=False)
    outcome = forms.ChoiceField(choices=[("a", "Done"), ("b", "Could not")], widget=forms.RadioSelect)
    seen = forms.BooleanField(required=False, label="Two people")
    uuid = forms.CharField(widget=forms.HiddenInput(attrs={"data-uuid": True}), required=False)

    def clean_note(self) -> str:
        raise forms.ValidationError("<b>Too long</b>.\nWhy it is.\nWhat would do.")


def drawn(name: str, data: dict[str, str] | None = None, tag: str = "{% field bound %}") -> str:
    form = WeighingForm(data)
    return Template("{% load look %}" + tag).render(Context({"bound": form[name], "form": form}))


def test_the_label_belongs_to_the_input() -> None:
    assert '<label for="id_weight">Weight</label>' in drawn("weight")


def test_unit_help_and_error_describe_the_input_in_that_order() -> None:
    html = drawn("weight", {"weight": "900 kg"})
    described = re.search(r'aria-describedby="([^"]+)"', html)
    assert described is not None
    ids = described.group(1).split()
    assert ids == ["id_weight_unit", "id_weight_helptext", "id_weight_error"]
    assert all(f'id="{name}"' in html for name in ids)
    assert 'aria-invalid="true"' in html


def test_what_was_typed_is_not_lost() -> None:
    assert 'value="900 kg"' in drawn("weight", {"weight": "900 kg"})


def test_an_amount_offers_another_unit_and_a_plain_number_does_not() -> None:
    assert "data-keypad" in drawn("weight")
    assert "data-keypad" not in drawn("flow", tag='{% field bound unit="L/h" %}')


@pytest.mark.parametrize(
    ("name", "keypad"), [("weight", "decimal"), ("flow", "decimal"), ("count", "numeric"), ("note", None)]
)
def test_keypads(name: str, keypad: str | None) -> None:
    found = re.search(r'inputmode="(\w+)"', drawn(name))
    assert (found.group(1) if found else None) == keypad


def test_an_error_is_a_strong_line_and_the_rest_and_is_escaped() -> None:
    html = drawn("note", {"note": "x"})
    assert "<b>&lt;b&gt;Too long&lt;/b&gt;.</b> Why it is.<br>What would do." in html


def test_choices_are_a_fieldset_with_their_icons() -> None:
    html = drawn("outcome", tag='{% field bound icons="tick cross" %}')
    assert "<legend>Outcome</legend>" in html
    assert html.count('type="radio"') == 2
    assert html.index("#tick") < html.index("Done") < html.index("#cross") < html.index("Could not")


def test_a_tick_box_is_inside_its_label() -> None:
    html = drawn("seen")
    assert re.search(r'<label class="tick"><input type="checkbox"[^>]*><span>Two people</span></label>', html)


def test_a_hidden_field_is_only_its_input() -> None:
    html = drawn("uuid").strip()
    assert html.startswith("<input")
    assert "data-uuid" in html
    assert "label" not in html


def test_only_optional_fields_say_so() -> None:
    assert "optional" in drawn("flow")
    assert "optional" not in drawn("weight")
    assert "optional" not in drawn("flow", tag="{% field bound optional=False %}")


def test_further_attributes_reach_the_input() -> None:
    assert 'autocomplete="off"' in drawn("note", tag='{% field bound autocomplete="off" %}')


def test_all_fields_of_a_form_are_drawn_once() -> None:
    html = drawn("note", tag="{% fields form %}")
    assert all(html.count(f'name="{name}"') == 1 for name in WeighingForm.base_fields if name != "outcome")


def test_errors_of_the_whole_form_are_said_at_once() -> None:
    form = WeighingForm({})
    form.add_error(None, "These contradict each other.\nMeasure again.")
    html = Template("{% load look %}{% form_errors form %}").render(Context({"form": form}))
    assert 'role="alert"' in html
    assert "<b>These contradict each other.</b> Measure again." in html


def test_no_errors_draw_nothing() -> None:
    assert look.form_errors(WeighingForm())["errors"] == []
    assert (
        Template("{% load look %}{% form_errors form %}").render(Context({"form": WeighingForm()})).strip()
        == ""
    )


class Sized(UnitForm):
    depth = QuantityField("length", above=0, high=3)


@pytest.mark.parametrize(
    ("metres", "system", "shown"),
    [
        (0.0266446, "metric", "2.664"),
        (0.35, "us", "13.78"),
        (1.2345678, "metric", "123.5"),
        (0.2, "metric", "20"),
    ],
)
def test_few_digits_are_shown_and_all_are_kept(metres: float, system: str, shown: str) -> None:
    field = Sized(initial={"depth": metres}, system=system)["depth"]
    assert f'value="{shown}"' in str(field)
    again = Sized({"depth": shown}, initial={"depth": metres}, system=system)
    assert again.is_valid() and again.cleaned_data["depth"] == metres
    anew = Sized({"depth": "8"}, initial={"depth": metres}, system=system)
    assert anew.is_valid() and anew.cleaned_data["depth"] == pytest.approx(
        0.08 if system == "metric" else 0.2032
    )


def test_an_untouched_amount_out_of_bounds_is_refused_all_the_same() -> None:
    assert not Sized({"depth": "400"}, initial={"depth": 4.0}).is_valid()
