"""The OpenAPI document is valid, whole, and says what the API does."""

import json

import pytest
from django.core.management import call_command
from jsonschema import Draft4Validator

from tests import factories as make


@pytest.fixture(scope="module")
def schema(tmp_path_factory):
    path = tmp_path_factory.mktemp("schema") / "schema.json"
    call_command("spectacular", "--validate", "--fail-on-warn", "--format=openapi-json", f"--file={path}")
    return json.loads(path.read_text())


def test_it_is_valid_and_without_warnings(schema):
    assert schema["openapi"].startswith("3.")
    assert len(schema["paths"]) == 50


def test_records_can_be_entered_and_corrected_but_not_deleted(schema):
    methods = {path: set(each) for path, each in schema["paths"].items()}
    assert methods["/api/water-tests/"] == {"get", "post"}
    assert methods["/api/water-tests/{uuid}/"] == {"get", "patch"}
    assert not any("delete" in each or "put" in each for each in methods.values())


def test_units_and_bounds_are_in_it(schema):
    fields = schema["components"]["schemas"]["MeasurementIn"]["properties"]
    assert "[kg]" in fields["mass_kg"]["description"]
    assert fields["mass_kg"]["minimum"] == 0 and fields["mass_kg"]["exclusiveMinimum"] is True
    assert fields["mass_kg"]["maximum"] == 1000


def test_it_is_served_to_whoever_may_sign_in(refuge, client, volunteer_api):
    assert client.get("/api/schema/").status_code == 401
    answer = volunteer_api.get("/api/schema/")
    assert answer.status_code == 200
    assert json.loads(answer.content)["info"]["title"] == "Clearmere"


@pytest.mark.parametrize(
    ("path", "component"),
    [
        ("circuits", "CircuitOut"),
        ("animals", "AnimalOut"),
        ("filters", "FilterOut"),
        ("placements", "PlacementOut"),
    ],
)
def test_answers_have_the_shape_that_it_states(schema, api, path, component):
    circuit = make.CircuitFactory()
    make.AnimalFactory(placed_in=make.EnclosureFactory(circuit=circuit))
    make.FilterUnitFactory(circuit=circuit)
    row = api.get(f"/api/{path}/").json()["results"][0]
    stated = schema["components"]["schemas"][component]
    assert set(row) == set(stated["properties"])
    whole = {**stated, "components": schema["components"]}
    errors = [
        error
        for error in Draft4Validator(whole).iter_errors(row)
        if not (error.instance is None and error.validator in ("type", "enum", "allOf"))  # nullable, in 3.0
    ]
    assert errors == []
