"""Style sheets, scripts and fonts: addressed by their bytes, kept until those change."""

from __future__ import annotations

import hashlib
import importlib.resources
import mimetypes
import os
from functools import cache
from importlib.resources.abc import Traversable
from typing import Final

from starlette.responses import Response
from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

PACKAGE: Final = importlib.resources.files("kitwright")
FOR_GOOD: Final = "public, max-age=31536000, immutable"
A_WEEK: Final = "public, max-age=604800"

mimetypes.add_type("font/woff2", ".woff2")  # not in every system's table; Starlette asks that


@cache
def static(name: str) -> str:
    """The address of a static file, new whenever its bytes are.

    Raises
    ------
    FileNotFoundError
        There is no such file; a page must not name one.
    """
    digest = hashlib.sha256(_file(name).read_bytes()).hexdigest()
    return f"/static/{name}?v={digest[:12]}"


def _file(name: str) -> Traversable:
    return PACKAGE / name if name.startswith("fonts/") else PACKAGE / "web" / "static" / name


class Kept(StaticFiles):
    """Files with a version in their address are kept for good, fonts a week; others asked for."""

    def __init__(self, directory: str, *, unversioned: str) -> None:
        super().__init__(directory=directory)
        self.unversioned = unversioned

    def file_response(
        self,
        full_path: str | os.PathLike[str],
        stat_result: os.stat_result,
        scope: Scope,
        status_code: int = 200,
    ) -> Response:
        response = super().file_response(full_path, stat_result, scope, status_code)
        versioned = scope["query_string"].startswith(b"v=")
        response.headers["Cache-Control"] = FOR_GOOD if versioned else self.unversioned
        return response


def routes() -> list[BaseRoute]:
    """Where the files are served: fonts from their own folder, the rest from `web/static`."""
    return [
        Mount("/static/fonts", Kept(str(PACKAGE / "fonts"), unversioned=A_WEEK)),
        Mount("/static", Kept(str(PACKAGE / "web" / "static"), unversioned="no-cache")),
    ]
