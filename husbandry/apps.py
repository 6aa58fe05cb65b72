from django.apps import AppConfig


class HusbandryConfig(AppConfig):
    name = "husbandry"
