"""What husbandry keeps, as tables of files: importing this registers them all."""

from husbandry.resources import animals, daily, kinds, stays  # noqa: F401
