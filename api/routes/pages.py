"""The planning page at the root, the list of studies, the guide, and the files they are made of."""

from __future__ import annotations

import gzip
import re
from html import escape
from pathlib import Path
from typing import Annotated

import orjson
from fastapi import APIRouter, FastAPI, Header, HTTPException
from starlette.responses import RedirectResponse, Response
from starlette.staticfiles import StaticFiles

import web
from api.assets import PackedFiles, page_response
from api.deps import ServiceDep
from api.guide import guide_html, guide_names, guide_picture
from api.guide_site import search_index
from routing.papers.letters import FACES, letters
from routing.words import languages, spoken_words

router = APIRouter(include_in_schema=False)

FOLDER = Path(web.__file__).resolve().parent
VENDOR = ("leaflet", "uplot")
"""Front-end packages that pages load; nothing else of node_modules is served."""

Accepted = Annotated[str, Header(alias="accept-encoding", max_length=400)]


ENTRY = re.compile(r'src="/js/([\w-]+\.js)"')
VENDORED = re.compile(r'": "(/vendor/[^"]+\.js)"')
IMPORTED = re.compile(r'from "\./([\w-]+\.js)"')


def page_text(name: str) -> str:
    """Return the text of one page."""
    html = (FOLDER / name).read_text(encoding="utf-8")
    return html.replace("<!-- preload -->", _preloads(html), 1)


def _preloads(html: str) -> str:
    """Return links to all modules of a page, so that none waits until another has come in."""
    found = ENTRY.findall(html)
    for module in found:  # grows on the way
        text = (FOLDER / "js" / module).read_text(encoding="utf-8")
        found += [name for name in dict.fromkeys(IMPORTED.findall(text)) if name not in found]
    paths = [*VENDORED.findall(html), *(f"/js/{module}" for module in found[1:])]
    return "\n".join(f'<link rel="modulepreload" href="{path}">' for path in paths)


@router.get("/")
def planning_page(service: ServiceDep, accepted: Accepted = "") -> Response:
    """Return the planning page."""
    tiles, credit = service.settings.online_tiles, service.settings.online_credit
    html = page_text("index.html").replace("<!-- languages -->", _languages(), 1)
    if tiles:
        named = f'data-tiles="{escape(tiles)}" data-credit="{escape(credit)}"'
        html = html.replace("<body", f"<body {named}", 1)
    return page_response(html, accepted, _host(tiles))


def _host(tiles: str) -> str:
    """Return scheme and host of a tile address, ``*`` where it has a part that changes."""
    scheme, found, rest = tiles.partition("://")
    if not found:
        return ""
    host = rest.partition("/")[0]
    return f"{scheme}://*.{host.partition('}.')[2]}" if "{s}." in host else f"{scheme}://{host}"


def _languages() -> str:
    """Return the choices of the page's control."""
    known = languages().values()
    return "".join(f'<option value="{one.code}">{escape(one.own_name)}</option>' for one in known)


@router.get("/words/{code}.json")
def words(code: str, accepted: Accepted = "") -> Response:
    """Return the catalogue of a language."""
    if code not in languages():
        raise HTTPException(404, f"There is no language {code[:20]!r} here.")
    body = orjson.dumps(spoken_words(code))
    headers = {"cache-control": "no-cache", "vary": "accept-encoding"}
    if "gzip" in accepted:
        body, headers["content-encoding"] = gzip.compress(body, 6, mtime=0), "gzip"
    return Response(body, 200, headers, media_type="application/json")


@router.get("/letters/{code}.ttf")
def letters_of(code: str) -> Response:
    """Return the letters of a language for machines that lack them."""
    if code not in FACES:
        raise HTTPException(404, f"There are no letters {code[:20]!r} here.")
    headers = {"cache-control": "public, max-age=86400"}
    return Response(letters(code), 200, headers, media_type="font/ttf")


@router.get("/list")
def list_page(accepted: Accepted = "") -> Response:
    """Return the page that lists terrains and studies."""
    return page_response(page_text("list.html"), accepted)


@router.get("/guide")
def guide_index() -> Response:
    """Lead to the guide's first page."""
    return RedirectResponse("/guide/index.md")


@router.get("/guide/search-index.js")
def guide_index_of_words() -> Response:
    """Return what the guide's search looks in."""
    headers = {"cache-control": "no-cache"}
    return Response(search_index(), 200, headers, media_type="text/javascript")


@router.get("/guide/pictures/{name}")
def guide_image(name: str) -> Response:
    """Return a picture of the guide."""
    found = guide_picture(name)
    if found is None:
        raise HTTPException(404, f"The guide has no picture {name[:80]!r}.")
    return Response(found[0], 200, {"cache-control": "max-age=3600"}, media_type=found[1])


@router.get("/guide/{name}")
def guide_page(name: str, accepted: Accepted = "") -> Response:
    """Return one page of the guide."""
    stem = name.removesuffix(".md")
    if stem not in guide_names():
        raise HTTPException(404, f"The guide has no page {name[:80]!r}.")
    return page_response(guide_html(stem), accepted)


@router.get("/favicon.ico")
def no_icon() -> Response:
    """Answer a browser that shows a paper by itself and asks for a sign of it: there is none."""
    return Response(status_code=204, headers={"cache-control": "max-age=86400"})


@router.get("/worker.js")
def worker() -> Response:
    """Return the page's offline helper; it stands at the root so that it may answer for ``/``."""
    script = (FOLDER / "js" / "worker.js").read_bytes()
    return Response(script, 200, {"cache-control": "no-cache"}, media_type="text/javascript")


def mount_files(app: FastAPI) -> None:
    """Serve the pages' own modules and styles, and the packages they load."""
    for name in ("js", "css"):
        app.mount(f"/{name}", PackedFiles(directory=FOLDER / name), name=name)
    for name in VENDOR:
        folder = FOLDER / "node_modules" / name / "dist"
        files: StaticFiles = PackedFiles(directory=folder, cache="max-age=86400")
        app.mount(f"/vendor/{name}", files, name=f"vendor-{name}")
