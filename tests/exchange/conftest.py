"""A refuge with something of everything. Models are imported inside: see tests/api/conftest.py."""

import pytest


@pytest.fixture
def manager(db):
    from tests.factories import RefugeFactory, UserFactory

    RefugeFactory(time_zone="America/New_York")
    return UserFactory(manager=True, name="Ines Tarouca")


@pytest.fixture(autouse=True)
def own_data_folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path


@pytest.fixture
def desk_of(manager):
    from django.test import Client

    client = Client()
    client.force_login(manager)
    return client
