"""JSON Schemas of the site file and of the answers, in a stable order."""

from __future__ import annotations

import json
from typing import Any

from pydantic.json_schema import models_json_schema

from rinsewright.planning.answers import ANSWERS
from rinsewright.site.schema import SiteFile

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def site_file_schema() -> str:
    """The site file's."""
    return _text({"$schema": DIALECT, **SiteFile.model_json_schema(by_alias=True)} | {"title": "rinsewright site file"})


def answers_schema() -> str:
    """Every answer's, under ``$defs``; the whole accepts any one of them."""
    kinds, schema = models_json_schema([(model, "validation") for model in ANSWERS.values()], by_alias=True)
    whole = {
        "$schema": DIALECT,
        "title": "rinsewright answers",
        "anyOf": [kinds[(model, "validation")] for model in ANSWERS.values()],
        "$defs": schema["$defs"],
    }
    return _text(whole)


def _text(schema: dict[str, Any]) -> str:
    schema["$defs"] = dict(sorted(schema["$defs"].items()))
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
