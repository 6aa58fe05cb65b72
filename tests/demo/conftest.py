"""The story is told once for all tests here that need no database."""

from datetime import date

import pytest

from refuge.demo.happenings import Story
from refuge.demo.story import tell

TODAY = date(2026, 11, 25)  # the pond is cold, the first animals are in winter rest


@pytest.fixture(scope="session")
def story() -> Story:
    return tell(today=TODAY, seed=1)
