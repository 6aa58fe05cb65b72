"""What the water is taken to evaporate into, in words."""

from filtration.designing.words import percent, speed
from filtration.hydraulics.design import Design
from filtration.hydraulics.faults import air_over
from refuge.rules.words import amount


def air_words(design: Design) -> str:
    """The air over a water: 'still air at 22 C and 50 % humidity', 'a dry wind of 2 m/s (30 % humidity)'."""
    air = air_over(design)
    humid = f"{percent(air.relative_humidity)} humidity"
    if air.air_c is None:
        return f"a dry wind of {speed(air.speed_m_s)} day and night ({humid}, air as warm as the water), without rain"
    return f"still air at {amount(air.air_c, 'temperature')} and {humid}"


def surface_words(design: Design) -> str:
    """Which surface loses water and which falls."""
    tank = design.tank
    if tank.evaporating_m2 == tank.surface_m2:
        return f"all of its {amount(tank.surface_m2, 'area')} lose water and fall together"
    return (
        f"{amount(tank.evaporating_m2, 'area')} lose water, and the level falls in the {amount(tank.surface_m2, 'area')} "
        "that the pump stands in"
    )
