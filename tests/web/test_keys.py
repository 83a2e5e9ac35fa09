"""Every key of the site file is reached by a form of the app, or is left out for a reason that stands here."""

from __future__ import annotations

import re
from html import unescape
from urllib.parse import unquote

from starlette.testclient import TestClient

from rinsewright.site.schema import SiteFile
from rinsewright.web.keys import keys_of
from rinsewright.web.lines import LINES
from rinsewright.web.pages.parts import kinds

from .served import SLUG

SITE = f"/sites/{SLUG}"
LEFT_OUT = {
    "schema": "there is one version of the file's form, and the program knows it",
    **{
        f"plant.{line}[{kind}].part": "the kind is chosen where a part is put in; another kind is another part"
        for line in LINES
        for kind in kinds(line)
    },
}
PAGES = [
    *("tap", "work", "yard", "unpacking", "plant/supply", "plant/plant"),
    *("work/vans/new", "work/rounds/new", "tap/changes/new", "plant/plant.membranes/after"),
    *(f"plant/plant.{line}/after?kind={kind}" for line in LINES for kind in kinds(line)),
]
TABLES = {  # what a form is about, by the address it is sent to
    "tap/water": "water.",
    "tap/analysis": "water.ions_mg_l.",
    "tap/supply": "supply.",
    "tap/changes/new": "water.changes[].",
    "work": "demand.",
    "work/vans/new": "demand.vans[].",
    "work/rounds/new": "demand.rounds[].",
    "yard/site": "site.",
    "yard/prices": "prices.",
    "unpacking/kit": "",
    "plant/supply": "supply.",
    "plant/plant": "plant.",
}


def reached(client: TestClient) -> set[str]:
    """The keys that have a field in a form, each with the way to it."""
    found = set()
    for at in PAGES:
        answer = client.get(f"{SITE}/{at}")
        assert answer.status_code == 200, at
        for address, inside in re.findall(r'<form method="post" action="([^"]+)"(.*?)</form>', answer.text, re.DOTALL):
            where = unquote(address).removeprefix(f"{SITE}/")
            if part := re.fullmatch(r"plant/(plant\.\w+)/after", where):
                table = f"{part[1]}[{at.partition('kind=')[2]}]."
            elif where in TABLES:
                table = TABLES[where]
            else:
                continue
            for name in re.findall(r'<(?:input|select)[^>]* name="([^"]+)"', unescape(inside)):
                found.add(table + re.sub(r"\.\d+\.", "[].", name))
    return found


def test_every_key_of_the_site_file_has_a_field(client: TestClient) -> None:
    ways = [way for way, _, _ in keys_of(SiteFile)]
    single = [way for way in ways if not any(other.startswith((f"{way}.", f"{way}[")) for other in ways)]
    assert len(single) > 200
    found = reached(client)
    assert [way for way in single if way not in found and way not in LEFT_OUT] == []
    assert [way for way in LEFT_OUT if way not in single or way in found] == []  # no reason without its key
