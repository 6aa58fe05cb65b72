"""What is asked of people about the refuge and about themselves."""

import zoneinfo
from functools import lru_cache
from typing import Any, cast

from django import forms
from django.contrib.auth.forms import (
    AuthenticationForm,
    PasswordChangeForm,
    SetPasswordForm,
    SetPasswordMixin,
    UsernameField,
)
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.http import HttpRequest

from refuge.forms import QuantityField, UnitForm, number
from refuge.people.errors import InvitationRepeated, SignInNameTaken
from refuge.people.invitations import new_secret
from refuge.people.models import Invitation, Role, UnitSystem, User, validate_time_zone
from refuge.people.services import Account
from refuge.people.tries import WINDOW_S, count_failure, forget_failures, tries_key, tries_spent
from refuge.plain_errors import PlainErrors

PASSWORD_HELP = "At least 10 characters. Three or four words that you can remember are a good one."
PASSWORDS_DIFFER = "The two passwords differ.\nType the same one in both fields."


class SignInNameField(UsernameField):
    """A sign-in name, kept in small letters: it is read in any case."""

    default_validators = [UnicodeUsernameValidator()]

    def to_python(self, value: Any) -> str:
        return str(super().to_python(value)).lower()


class SignInForm(PlainErrors, AuthenticationForm):
    """Name and password. Too many wrong ones are answered without looking at the next."""

    error_messages = {
        "invalid_login": "Name and password do not go together.\n"
        "Check both. If you have forgotten the password, a manager can send you a link for a new one.",
        "inactive": "Name and password do not go together.",
        "too_many": "Too many wrong passwords.\n"
        f"Wait {WINDOW_S // 60} minutes and try again, or ask a manager for a link for a new password.",
    }

    def clean(self) -> dict[str, Any]:
        key = tries_key(cast(HttpRequest, self.request), self.cleaned_data.get("username", ""))
        if tries_spent(key):
            raise ValidationError(self.error_messages["too_many"], code="too_many")
        try:
            cleaned = super().clean()
        except ValidationError:
            count_failure(key)
            raise
        forget_failures(key)
        return cleaned


class AccountForm(PlainErrors, SetPasswordMixin, forms.Form):
    """The sign-in name and password of an account to be made."""

    error_messages = {"password_mismatch": PASSWORDS_DIFFER}

    username = SignInNameField(
        label="Name to sign in with",
        max_length=150,
        help_text="Short and without spaces, like ines or ines.r",
    )
    password1, password2 = SetPasswordMixin.create_password_fields("Password", "Password again")
    password1.help_text, password2.help_text = PASSWORD_HELP, ""

    def clean_username(self) -> str:
        username = str(self.cleaned_data["username"])
        if username not in self.own_names() and User.objects.filter(username__iexact=username).exists():
            raise ValidationError(str(SignInNameTaken()), code="taken")
        return username

    def own_names(self) -> set[str]:
        """Names that count as free: those this very form has made an account with."""
        return set()

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.validate_passwords()
        self.validate_password_for_user(self.person(), "password1")
        return self.cleaned_data

    def person(self) -> User:
        """Who it will be, unsaved: a password must not resemble what others know of them."""
        return User(username=self.cleaned_data.get("username", ""))

    def account(self) -> Account:
        return Account(username=self.cleaned_data["username"], password=self.cleaned_data["password1"])


@lru_cache(maxsize=1)
def zones() -> list[str]:
    """The zones offered: places and UTC. Any name in the IANA list is accepted."""
    places = {zone for zone in zoneinfo.available_timezones() if "/" in zone and not zone.startswith("Etc/")}
    return [*sorted(places), "UTC"]


class RefugeForm(UnitForm):
    """What the whole site goes by."""

    refuge_name = forms.CharField(label="Name of the refuge", max_length=120)
    time_zone = forms.CharField(
        label="Time zone",
        max_length=64,
        validators=[validate_time_zone],
        help_text="Continent/City, like Europe/Lisbon.",
    )
    morning_at = forms.TimeField(
        label="The day starts at",
        initial="07:00",
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="By then the day’s list is made and the morning messages are sent.",
    )
    elevation_m = QuantityField(
        "elevation",
        label="Height above sea level",
        low=-450,
        high=6000,
        help_text="Water holds less oxygen higher up. To the nearest 50 m is enough; feet are understood: 800 ft.",
    )
    zones = staticmethod(zones)


class RefugeSettingsForm(RefugeForm):
    """The same, with what can wait until after the first visit."""

    price_per_kwh = number(
        "Price of electricity",
        1000,
        unit="a kWh",
        help_text="In your own money. It gives what each filter costs a month, where its plan names no price.",
    )


class WelcomeForm(RefugeForm, AccountForm):
    """The first visit: the refuge and its first manager."""

    name = forms.CharField(
        label="Your name", max_length=120, widget=forms.TextInput({"autocomplete": "name"})
    )
    email = forms.EmailField(label="Email", required=False, help_text="For the morning message.")
    unit_system = forms.ChoiceField(
        label="Your units",
        choices=UnitSystem.choices,
        initial=UnitSystem.METRIC,
        widget=forms.RadioSelect,
        help_text="Everybody can choose their own.",
    )

    def person(self) -> User:
        data = self.cleaned_data
        return User(username=data.get("username", ""), name=data.get("name", ""), email=data.get("email", ""))


class JoinForm(AccountForm):
    """How somebody who was invited will sign in."""

    def __init__(self, *args: Any, invitation: Invitation, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.invitation = invitation

    def own_names(self) -> set[str]:
        made = self.invitation.accepted_by
        return {made.username} if made else set()

    def person(self) -> User:
        username = self.cleaned_data.get("username", "")
        return User(username=username, name=self.invitation.name, email=self.invitation.email)


class InvitationForm(PlainErrors, forms.Form):
    """Whom to invite, and as what. Carries the secret of the link, so that sending it twice makes one."""

    name = forms.CharField(label="Name", max_length=120)
    role = forms.ChoiceField(
        label="Role", choices=Role.choices, initial=Role.VOLUNTEER, widget=forms.RadioSelect
    )
    email = forms.EmailField(
        label="Email", required=False, help_text="For their morning message. Nothing is sent now."
    )
    secret = forms.CharField(
        initial=new_secret, widget=forms.HiddenInput, validators=[RegexValidator(r"\A[A-Za-z0-9_-]{43}\Z")]
    )

    def refuse_repeat(self, error: InvitationRepeated) -> None:
        """Show the refusal, with a fresh secret for the next attempt."""
        self.add_error(None, str(error))
        self.data = self.data.copy()
        self.data["secret"] = new_secret()


class RoleForm(PlainErrors, forms.Form):
    role = forms.ChoiceField(label="Role", choices=Role.choices, widget=forms.RadioSelect)


class MySettingsForm(PlainErrors, forms.ModelForm):
    class Meta:
        model = User
        fields = ["name", "email", "wants_digest", "unit_system", "theme"]
        widgets = {"unit_system": forms.RadioSelect, "theme": forms.RadioSelect}
        labels = {
            "name": "Your name",
            "email": "Email",
            "unit_system": "Units",
            "theme": "Colours",
            "wants_digest": "Send me a morning message with the day’s work",
        }
        help_texts = {"email": "Without one, messages wait for you here under Notices."}


def _plain_passwords(form: forms.Form) -> None:
    form.fields["new_password1"].label = "New password"
    form.fields["new_password1"].help_text = PASSWORD_HELP
    form.fields["new_password2"].label = "New password again"
    form.fields["new_password2"].help_text = ""


class MyPasswordForm(PlainErrors, PasswordChangeForm):
    error_messages = {
        "password_mismatch": PASSWORDS_DIFFER,
        "password_incorrect": "This is not your present password.\nCheck it, or ask a manager for a link.",
    }

    def __init__(self, user: User, *args: Any, **kwargs: Any) -> None:
        super().__init__(user, *args, **kwargs)
        self.fields["old_password"].label = "Present password"
        _plain_passwords(self)


class NewPasswordForm(PlainErrors, SetPasswordForm):
    error_messages = {"password_mismatch": PASSWORDS_DIFFER}

    def __init__(self, user: User, *args: Any, **kwargs: Any) -> None:
        super().__init__(user, *args, **kwargs)
        _plain_passwords(self)
