from django.apps import AppConfig


class FiltrationConfig(AppConfig):
    name = "filtration"
