"""What the program knows: catalogue, rules, schemas, and demo briefs to begin with."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import JSONResponse
from starlette.responses import Response

from api import demo
from api.access import Reader
from api.openapi import answers
from api.problems import Problem
from api.representations import unchanged
from api.resources import CatalogueParts, CatalogueRows, DemoBrief, DemoBriefs, RuleText, RuleTexts
from scheduler.answers.audit import load_guidelines
from scheduler.catalogue_search import rows
from scheduler.data import PARTS, catalogue_sha256, load_catalogue
from scheduler.domain.brief import Brief
from scheduler.domain.variants import Guidelines
from scheduler.planning import program_version
from scheduler.rules import RULES, TIER_NAMES
from scheduler.schemas import SCHEMAS

router = APIRouter(prefix="/v1", tags=["catalogue"])
Part = StrEnum("Part", {part.upper(): part for part in PARTS})  # type: ignore[misc]


Documented = StrEnum("Documented", {name.upper().replace("-", "_"): name for name in SCHEMAS})  # type: ignore[misc]


def _steady(request: Request, data: Any) -> Response:
    """An answer that changes with the program's version only."""
    etag = f'"{program_version()}-{catalogue_sha256()[:16]}"'
    headers = {"ETag": etag, "Cache-Control": "private, no-cache"}
    if unchanged(request, etag):
        return Response(status_code=304, headers=headers)
    return JSONResponse(data, headers=headers)


@router.get("/catalogue", responses=answers(CatalogueParts, unmodified=True))
def list_catalogue(request: Request, _caller: Reader) -> Response:
    """The parts of the catalogue."""
    catalogue = load_catalogue()
    return _steady(request, {"parts": {part: len(getattr(catalogue, part)) for part in PARTS}})


@router.get("/catalogue/{part}", responses=answers(CatalogueRows))
def search_catalogue(
    part: Part,
    _caller: Reader,
    q: Annotated[str, Query(max_length=200, description="Words that a row has to hold.")] = "",
) -> CatalogueRows:
    """Rows of one part, by key: exercises, muscles, evidence and so on."""
    return CatalogueRows(part=part.value, rows=rows(part.value, q.split()))


@router.get("/rules", responses=answers(RuleTexts, unmodified=True))
def list_rules(request: Request, _caller: Reader) -> Response:
    """Every rule: what it asks in words and as a formula, and where a breach of it is paid."""
    texts = RuleTexts(
        rules=tuple(
            RuleText(
                key=rule.key,
                title=rule.title,
                meaning=rule.meaning,
                formula=rule.formula,
                default_mode=rule.default_mode.value,
                tier=rule.tier,
                tier_name=TIER_NAMES[rule.tier],
                measure=rule.measure,
                evidence=tuple(rule.evidence),
            )
            for rule in RULES
        )
    )
    return _steady(request, texts.model_dump(mode="json"))


@router.get("/guidelines", responses=answers(Guidelines, unmodified=True))
def list_guidelines(request: Request, _caller: Reader) -> Response:
    """The published guidelines that a plan can be held against, figure by figure."""
    return _steady(request, Guidelines(guidelines=load_guidelines()).model_dump(mode="json"))


@router.get("/schemas/{name}", responses=answers(dict[str, Any], unmodified=True))
def get_schema(name: Documented, request: Request, _caller: Reader) -> Response:
    """The JSON Schema (2020-12) of a document."""
    return _steady(request, SCHEMAS[name.value]())


@router.get("/demo-briefs", responses=answers(DemoBriefs))
def list_demo_briefs(_caller: Reader) -> DemoBriefs:
    """Invented briefs to begin with."""
    found = [(name, demo.brief(name)) for name in demo.names()]
    return DemoBriefs(
        briefs=tuple(
            DemoBrief(name=name, title=brief["title"], story=brief.get("story"), link=f"/v1/demo-briefs/{name}")
            for name, brief in found
        )
    )


@router.get("/demo-briefs/{name}", responses=answers(Brief, unmodified=True))
def get_demo_brief(
    name: Annotated[str, Path(pattern="^[a-z0-9_]{1,60}$")], request: Request, _caller: Reader
) -> Response:
    """A demo brief, ready to be sent to `/v1/plans`."""
    try:
        return _steady(request, demo.brief(name))
    except KeyError:
        raise Problem("not-found", f"There are: {', '.join(demo.names())}.") from None
