"""No form of ours says a mistake in Django's stock words: each says what, why and what would do."""

from typing import Any

import pytest
from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.urls import get_resolver

from enclosures.forms import CircuitForm, WaterTestForm
from filtration.forms import PassedForm
from refuge.forms import NumberField, QuantityField
from refuge.plain_errors import PlainErrors
from refuge.rounds.forms import WhyForm

STOCK = ("This field", "Ensure this", "Enter a valid", "Select a valid", "Enter a number", "Enter a whole")
OUR_PACKAGES = ("refuge", "enclosures", "husbandry", "filtration")


class Kinds(PlainErrors, forms.Form):
    amount = QuantityField("mass", high=90)
    count = forms.IntegerField(min_value=1, max_value=5)
    few = forms.IntegerField(max_value=3, required=False)
    share = NumberField(min_value=0)
    day = forms.DateField()
    moment = forms.DateTimeField()
    kind = forms.ChoiceField(choices=[("a", "A")])
    name = forms.CharField(max_length=5)
    agreed = forms.BooleanField()
    file = forms.FileField()


def said(form: forms.BaseForm) -> dict[str, str]:
    return {name: " / ".join(errors) for name, errors in form.errors.items()}


def our_forms() -> list[type[forms.BaseForm]]:
    assert get_resolver().reverse_dict  # every view, and so every form, is imported
    found, waiting = set(), [forms.BaseForm]
    while waiting:
        waiting += (subclasses := waiting.pop().__subclasses__())
        found |= set(subclasses)
    return [
        form
        for form in found
        if form.__module__.split(".")[0] in OUR_PACKAGES and hasattr(form, "base_fields")
    ]


def test_every_form_of_ours_rewords() -> None:
    plain = our_forms()
    assert len(plain) > 30
    assert [form.__name__ for form in plain if not issubclass(form, PlainErrors)] == []


def test_nothing_typed() -> None:
    words = said(Kinds({}))
    assert set(words) == set(Kinds.base_fields) - {"few"}
    assert not [each for each in words.values() if each.startswith(STOCK)]
    assert words["amount"].startswith("The amount is missing.\n") and "“55 kg”" in words["amount"]
    assert "between 1 and 5" in words["count"]
    assert words["kind"].startswith("The answer is missing.")


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("count", "0", "Count lies between 1 and 5; you wrote 0."),
        ("count", "9", "Count lies between 1 and 5; you wrote 9."),
        ("few", "9", "Few is at most 3; you wrote 9."),
        ("share", "-1", "Share is at least 0; you wrote -1."),
        ("count", "two", "“two” is no whole number."),
        ("share", "a lot", "“a lot” is no number that can be read."),
        ("day", "soon", "“soon” is no day that can be read."),
        ("moment", "soon", "“soon” is no time that can be read."),
        ("kind", "b", "“b” is none of the answers offered."),
        ("name", "too long", "This has 8 letters; at most 5 fit."),
    ],
)
def test_what_was_typed_is_named(name: str, typed: str, words: str) -> None:
    message = said(Kinds({name: typed}))[name]
    assert message.startswith(words)
    assert "\n" in message, "what would do is said too"


def test_a_ph_that_lost_its_point() -> None:
    assert said(WaterTestForm({"ph": "75", "basis": "n"}))["ph"].startswith(
        "pH lies between 0 and 14; you wrote 75."
    )


def test_a_test_without_a_result_asks_for_it() -> None:
    assert said(PassedForm({}))["passed"].startswith("Say whether it passed or failed.")


@pytest.mark.django_db
def test_an_empty_water_is_told_field_by_field() -> None:
    words = said(CircuitForm({}))
    assert len(words) >= 4
    assert not [each for each in words.values() if each.startswith(STOCK)]


def test_own_words_stay() -> None:
    form = WhyForm({})
    form.is_valid()
    form.add_error("why", "Own words.")
    assert form.errors["why"][-1] == "Own words."


def test_a_validator_of_the_model_is_reworded_too() -> None:
    form = Kinds({"share": "7"})
    form.is_valid()
    with pytest.raises(ValidationError) as refused:
        MaxValueValidator(5)(7)
    form.add_error(None, ValidationError({"share": refused.value.error_list}))
    assert form.errors["share"] == ["Share lies between 0 and 5; you wrote 7.\nCheck the number."]


@pytest.mark.parametrize(
    ("quantity", "bounds", "typed", "read"),
    [
        ("volume", {"above": 0}, "1,100 L", 1.1),
        ("volume", {"above": 0}, "1,100", 1.1),
        ("flow", {"above": 0}, "2,000 L/h", 2.0),
        ("mass", {"low": 100}, "1,200 kg", 1200.0),  # 1.2 kg would be too little
        ("mass", {"high": 90}, "1,200 kg", 1.2),  # 1200 kg would be too much
        ("mass", {}, "0,250 kg", 0.25),  # thousands do not begin with a zero
        ("mass", {}, "1,200,000 g", 1200.0),
        ("mass", {}, "1,5 kg", 1.5),
    ],
)
def test_a_comma_that_can_mean_only_one_thing(
    quantity: str, bounds: dict[str, float], typed: str, read: float
) -> None:
    assert QuantityField(quantity, **bounds).clean(typed) == pytest.approx(read)


def test_a_comma_that_may_be_either_offers_both_readings() -> None:
    with pytest.raises(ValidationError) as refused:
        QuantityField("mass").clean("1,200 kg")
    assert refused.value.messages == ["“1,200 kg” can be read two ways. Write “1200 kg” or “1.2 kg”."]


@pytest.mark.parametrize(
    ("bounds", "typed", "read"),
    [({"max_value": 14.0}, "7,125", 7.125), ({"min_value": 10.0}, "1,200", 1200.0), ({}, "1,5", 1.5)],
)
def test_plain_numbers_read_commas_alike(bounds: dict[str, Any], typed: str, read: float) -> None:
    assert NumberField(**bounds).clean(typed) == pytest.approx(read)


def test_a_plain_number_that_may_be_either_is_not_guessed() -> None:
    with pytest.raises(ValidationError, match=r"“1200” or “1\.2”"):
        NumberField(max_value=100_000).clean("1,200")
