"""The profiles' schema in a foreign validator, and TOML through a foreign reader.

validate.py SCHEMA FILE...: prints one line a file, "good" or what is wrong first, and where.
"""
import json
import sys
import tomllib

import jsonschema

with open(sys.argv[1], encoding="utf-8") as f:
    schema = json.load(f)
jsonschema.Draft202012Validator.check_schema(schema)
validator = jsonschema.Draft202012Validator(schema)
for name in sys.argv[2:]:
    with open(name, "rb") as f:
        profile = tomllib.load(f)
    error = jsonschema.exceptions.best_match(validator.iter_errors(profile))
    print("good" if error is None else f"{error.json_path}: {error.message[:120]}")
