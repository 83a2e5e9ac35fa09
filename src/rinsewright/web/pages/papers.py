"""Papers: what can I hand over? Documents by date, each as page and PDF, and a new one of each kind."""

from __future__ import annotations

import re
from base64 import b64encode
from dataclasses import dataclass
from hashlib import sha256

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.errors import RinsewrightError
from rinsewright.store.rows import Document, DocumentRow, FirstRunRow
from rinsewright.web.forms import REFUSED, Typed, posted
from rinsewright.web.issuing import KINDS, issue, run_of
from rinsewright.web.pages.refusal import sentences
from rinsewright.web.view import back_to, book_of, engine_of, page

STYLE = re.compile(rb"<style>(.*?)</style>", re.DOTALL)


@dataclass(frozen=True)
class Run:
    """A first run of which a record and a handover pack can be made."""

    row: FirstRunRow
    read: int
    chosen: bool


@dataclass(frozen=True)
class Papers:
    """The documents of a site, the newest first; what can be issued; why the last one was not."""

    slug: str
    documents: tuple[DocumentRow, ...]
    kinds: tuple[str, ...]
    runs: tuple[Run, ...]
    refusal: tuple[str, ...]


def show(request: Request) -> Response:
    """The list."""
    return _show(request, _asked_for(request.query_params.get("run", "")))


def _asked_for(text: str) -> int | None:
    return int(text) if text.isdecimal() else None


def _show(request: Request, run_id: int | None, refusal: tuple[str, ...] = (), *, status: int = 200) -> Response:
    slug = request.path_params["slug"]
    book = book_of(request)
    book.site(slug)  # or it is said that there is none
    documents = tuple(reversed(book.documents(slug)))
    chosen = run_of(book, slug, run_id)
    runs = tuple(Run(row, len(book.readings(row.id)), row == chosen) for row in reversed(book.first_runs(slug)))
    return page(request, "papers.html", Papers(slug, documents, tuple(KINDS), runs, refusal), status=status)


@posted
def make(request: Request, typed: Typed) -> Response:
    """Issue one; where the site cannot have it yet, the list says why."""
    slug = request.path_params["slug"]
    kind, run_id = typed.choice("kind", KINDS), _asked_for(typed.values.get("run", ""))
    if kind is None:
        return _show(request, run_id, (typed.errors["kind"],), status=REFUSED)
    book_of(request).site(slug)
    try:
        row = issue(book_of(request), engine_of(request), slug, kind, run_id)
    except RinsewrightError as refusal:
        return _show(request, run_id, sentences(refusal), status=REFUSED)
    return back_to(f"/sites/{slug}/papers#d-{row.number}")


def html(request: Request) -> Response:
    """The page, byte for byte as it was issued. It brings its own style sheet, which is let in by its hash."""
    document = book_of(request).document(request.path_params["number"])
    hashes = [b64encode(sha256(css).digest()).decode() for css in STYLE.findall(document.html)]
    styles = " ".join(f"'sha256-{one}'" for one in hashes) or "'none'"
    policy = f"default-src 'none'; style-src {styles}; base-uri 'none'; frame-ancestors 'none'"
    return Response(document.html, media_type="text/html", headers={"Content-Security-Policy": policy})


def pdf(request: Request) -> Response:
    """The PDF, byte for byte."""
    document = book_of(request).document(request.path_params["number"])
    headers = {"Content-Disposition": f'inline; filename="{_file_name(document)}.pdf"'}
    return Response(document.pdf, media_type="application/pdf", headers=headers)


def _file_name(document: Document) -> str:
    return f"{document.row.slug}-{document.row.kind}-{document.row.number}"


routes = (
    Route("/sites/{slug}/papers", show, name="papers"),
    Route("/sites/{slug}/papers", make, methods=["POST"]),
    Route("/papers/{number}.html", html, name="paper-page"),
    Route("/papers/{number}.pdf", pdf, name="paper-pdf"),
)
