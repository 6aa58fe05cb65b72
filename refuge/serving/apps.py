from django.apps import AppConfig


class ServingConfig(AppConfig):
    """Makes the Celery application current in every process, and registers the checks of the settings."""

    name = "refuge.serving"
    verbose_name = "Running the site"

    def ready(self) -> None:
        from refuge import celery, checks  # noqa: F401
