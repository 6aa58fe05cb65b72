from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class RoundsConfig(AppConfig):
    """Listed last: by then every app is ready, and its rules, facts and recorders can be found."""

    name = "refuge.rounds"

    def ready(self) -> None:
        # They register checks and receivers; readings are looked at after the planner was heard.
        from refuge.rounds import checks, listeners, reading_alerts  # noqa: F401

        autodiscover_modules("facts")
        autodiscover_modules("rules")
        autodiscover_modules("recorders")
        autodiscover_modules("panels")
