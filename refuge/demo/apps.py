from django.apps import AppConfig


class DemoConfig(AppConfig):
    """The invented refuge: no tables of its own, only a command that fills an empty database."""

    name = "refuge.demo"
