from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "refuge.people"
    verbose_name = "People"
