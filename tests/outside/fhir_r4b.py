"""Validates each PlanDefinition of standard input (one JSON a line) with fhir.resources."""

import json
import sys

from fhir.resources.R4B.plandefinition import PlanDefinition

for number, line in enumerate(sys.stdin, 1):
    PlanDefinition.model_validate(json.loads(line))
    print(number)
