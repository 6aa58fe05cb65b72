from django.apps import AppConfig


class FiltrationConfig(AppConfig):
    name = "filtration"

    def ready(self) -> None:
        from filtration import listeners  # noqa: F401 (they register themselves)
        from filtration.forecasting import panel  # noqa: F401
        from filtration.what_if import arrivals  # noqa: F401
