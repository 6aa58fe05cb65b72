from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class ExchangeConfig(AppConfig):
    """Finds the tables of every app when all are ready."""

    name = "refuge.exchange"

    def ready(self) -> None:
        from refuge.exchange import history  # noqa: F401  (registers its table)

        autodiscover_modules("resources")
