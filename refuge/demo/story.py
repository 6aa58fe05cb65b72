"""Eighteen months at the demo refuge, told day by day. Pure: the same seed and day tell the same story."""

from datetime import date

from refuge.demo.animalcare import AnimalCare
from refuge.demo.daybook import HISTORY_DAYS, Daybook
from refuge.demo.filtercare import FilterCare
from refuge.demo.happenings import Story
from refuge.demo.meals import Meals
from refuge.demo.moves import Moves
from refuge.demo.watercare import WaterCare
from refuge.demo.world import build_world


def tell(*, today: date, seed: int, history_days: int = HISTORY_DAYS) -> Story:
    """Everything that happened from `history_days` before `today` until yesterday evening.

    Moments are UTC and lie within the working days of the refuge's zone; nothing is told of today.
    """
    book = Daybook(today, history_days)
    world = build_world(book, seed)
    moves, meals, waters, filters = Moves(world), Meals(world), WaterCare(world), FilterCare(world)
    animals = AnimalCare(world, moves)
    for day in book.days():
        world.begin(day)
        moves.in_the_morning(day)
        for part in (meals, waters, filters, animals):
            part.do(day)
        moves.in_the_afternoon(day)
    meals.close()
    moves.close()
    return world.story
