"""Holds JSON files against the project's schemas with the PyPI library jsonschema; says what is wrong and fails.

    schema.py SCHEMAS NAME FILE...           SCHEMAS is the folder of schemas, NAME the one to use, as in NAME.schema.json
    schema.py --each SCHEMAS NAME FILE...    says of each file `right` or `wrong`, and does not fail
"""

import json
import pathlib
import sys

import jsonschema
import referencing

each = sys.argv[1] == "--each"
folder, name, *files = sys.argv[1 + each :]
schemas = {path.name: json.loads(path.read_text()) for path in pathlib.Path(folder).glob("*.schema.json")}
for schema in schemas.values():
    jsonschema.Draft202012Validator.check_schema(schema)
resources = [(schema["$id"], referencing.Resource.from_contents(schema)) for schema in schemas.values()]
registry = referencing.Registry().with_resources(resources)
validator = jsonschema.Draft202012Validator(schemas[f"{name}.schema.json"], registry=registry)

wrong = False
if each:
    for file in files:
        print("right" if validator.is_valid(json.loads(pathlib.Path(file).read_text())) else "wrong")
    sys.exit()
for file in files:
    for error in validator.iter_errors(json.loads(pathlib.Path(file).read_text())):
        wrong = True
        print(f"{file}: {error.json_path}: {error.message}")
sys.exit(wrong)
