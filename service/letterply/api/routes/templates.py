"""templates: what a maker can start from, with the maker's words in it."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import APIRouter, Query, Response

from letterply.api.dependencies import LanguageOf, PreviewsOf, UnitsOf
from letterply.api.responses.describing import problems
from letterply.api.responses.results import HARMLESS, json_response
from letterply.api.schemas import TemplateDocument, TemplatePage
from letterply.errors import NotFound
from letterply.jobs import SHIPPED
from letterply.requests import Template, shipped_templates, template

__all__ = ["router"]

router = APIRouter(prefix="/v1/templates", tags=["templates"])

_Text = Annotated[str | None, Query(max_length=2000, description="the words")]
_Font = Annotated[str | None, Query(min_length=1, max_length=80, description="key of a font")]
_Size = Annotated[
    str | None,
    Query(max_length=40, description="height of the capitals: `60 mm`, `2 1/4 in`"),
]


@router.get("", response_model=TemplatePage)
def list_templates(lang: LanguageOf = None) -> Response:
    """List what there is to start from, each with its recipe."""
    return json_response({"items": [_document(t, t.recipe(), lang) for t in shipped_templates()]})


@router.get(
    "/{key}.{suffix}",
    responses={
        200: {
            "content": {"application/toml": {}, "image/svg+xml": {}},
            "description": "The recipe with comments, or its layers seen from above.",
        },
        **problems(404, 422),
    },
    response_class=Response,
)
async def get_template_as(
    previews: PreviewsOf,
    units: UnitsOf,
    key: str,
    suffix: str,
    text: _Text = None,
    font: _Font = None,
    size: _Size = None,
) -> Response:
    """Return a template by suffix: `.toml`, the recipe with comments, or `.svg`, its picture."""
    found = template(key)
    if suffix == "toml":
        made = found.toml(text=text, font=font, size=size, units=units)
        return Response(made, media_type="application/toml; charset=utf-8")
    if suffix != "svg":
        raise NotFound("file", f"{key}.{suffix}")
    recipe = found.recipe(text=text, font=font, size=size)
    preview = await previews.preview({"recipe": recipe, "shop": SHIPPED})
    headers = {"Content-Security-Policy": HARMLESS, "Cache-Control": "private, max-age=3600"}
    return Response(json.loads(preview)["svg"], media_type="image/svg+xml", headers=headers)


@router.get("/{key}", response_model=TemplateDocument, responses=problems(404, 422))
def get_template(
    units: UnitsOf,
    key: str,
    text: _Text = None,
    font: _Font = None,
    size: _Size = None,
    lang: LanguageOf = None,
) -> Response:
    """Return one of them as a recipe, with words, font and size of your own in it."""
    found = template(key)
    recipe = found.recipe(text=text, font=font, size=size, units=units)
    return json_response(_document(found, recipe, lang))


def _document(found: Template, recipe: dict[str, Any], lang: str | None) -> dict[str, Any]:
    self = f"/v1/templates/{found.key}"
    return {
        "key": found.key,
        **found.told(lang),
        "titled": found.titled,
        "recipe": recipe,
        "links": {"self": self, "toml": f"{self}.toml", "svg": f"{self}.svg"},
    }
