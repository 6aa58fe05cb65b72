"""System checks of the rules: mistakes of a programmer, named at start-up instead of at four in the morning."""

from collections.abc import Sequence
from importlib.util import find_spec
from typing import Any

from django.apps import apps
from django.core.checks import CheckMessage, Error, register

from refuge.rounds.recording import recorders
from refuge.rules.registry import RuleBook, rules


@register()
def rules_are_whole(app_configs: Sequence[Any] | None, **kwargs: Any) -> list[CheckMessage]:
    """Every app with a rules module registered a rule; every rule's recorder exists."""
    with_rules = [config.name for config in apps.get_app_configs() if find_spec(f"{config.name}.rules")]
    return [*silent_modules(with_rules, rules), *missing_recorders(rules, {each.key for each in recorders()})]


def silent_modules(app_names: Sequence[str], book: RuleBook) -> list[CheckMessage]:
    speaking = {rule.check.__module__.rsplit(".rules", 1)[0] for rule in book}
    return [
        Error(
            f"{name}.rules registered no rule.",
            hint="Decorate its functions with @rules.register(…), or delete the module.",
            id="rounds.E001",
        )
        for name in app_names
        if name not in speaking
    ]


def missing_recorders(book: RuleBook, known: set[str]) -> list[CheckMessage]:
    return [
        Error(
            f"Rule {rule.key!r} names the recorder {recorder!r}, which no app registered.",
            hint="Register a Recorder of that key in the app's recorders.py.",
            id="rounds.E002",
        )
        for rule in book
        for recorder in (rule.recorder, *(rule.instead or ())[:1])
        if recorder not in known
    ]
