"""The documentation page: the published document for a person, with a form to try it. Needs nothing from elsewhere."""

import json
import re
from html import escape
from importlib.resources import files
from string import Template
from typing import Any

from litestar import Response, get
from litestar.di import NamedDependency
from litestar.exceptions import HTTPException
from litestar.params import FromPath
from msgspec import Struct

from feedproof.api.bodies import AnyRequest
from feedproof.api.catalogues import KEPT, Encoded, give
from feedproof.api.schemas import name_of
from feedproof.note.html import content_security_policy
from feedproof.note.svg import document_policy, style_source

#: Frames of answers inherit it, so the style sheets of the note and of its picture are let in by their digests.
CONTENT_SECURITY_POLICY = (
    f"default-src 'none'; script-src 'self'; style-src 'self' {style_source(content_security_policy())} "
    f"{style_source(document_policy())}; connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
ASSETS = {"docs.css": "text/css", "docs.js": "text/javascript"}


class Published(Struct, frozen=True, kw_only=True):
    """The document and the page made of it."""

    document: Encoded
    page: bytes


@get("/docs", name="show_docs", summary="The documentation page")
async def show_docs(published: NamedDependency[Published]) -> Response[bytes]:
    """Show this contract for a person, with a form that sends requests to this service."""
    headers = {"Cache-Control": KEPT, "Content-Security-Policy": CONTENT_SECURITY_POLICY}
    return Response(published.page, media_type="text/html", headers=headers)


@get("/", name="lead_to_docs")
async def lead_to_docs() -> Response[bytes]:
    """Lead a person who opens the bare address to the page."""
    headers = {"Location": "/docs", "Cache-Control": KEPT}
    return Response(b"", status_code=307, headers=headers)


@get("/docs/{name:str}", name="show_asset")
async def show_asset(name: FromPath[str]) -> Response[bytes]:
    """Give a part of the page."""
    if name not in ASSETS:
        raise HTTPException(status_code=404)
    body = files("feedproof.api").joinpath("assets", name).read_bytes()
    return Response(body, media_type=ASSETS[name], headers={"Cache-Control": KEPT})


@get("/openapi.json", name="show_document", summary="This document")
async def show_document(request: AnyRequest, published: NamedDependency[Published]) -> Response[bytes]:
    """Give the OpenAPI 3.1 document that this service keeps to, byte for byte the committed one."""
    return give(request, published.document)


Node = dict[str, Any]

_CODE = re.compile(r"`([^`]+)`")
_STRONG = re.compile(r"\*\*([^*]+)\*\*")


def _prose(text: str) -> str:
    """Paragraphs, code and emphasis of the document's Markdown; nothing else is used there."""
    marked = _STRONG.sub(r"<strong>\1</strong>", _inline(text))
    return "".join(f"<p>{' '.join(part.split())}</p>" for part in re.split(r"\n\s*\n", marked.strip()))


def _inline(text: str) -> str:
    return _CODE.sub(r"<code>\1</code>", escape(text, quote=False))


def _json(value: object) -> str:
    return escape(json.dumps(value, indent=2, ensure_ascii=False), quote=False)


def _type(node: Node) -> str:
    """What a schema accepts, in a few words."""
    if "$ref" in node:
        name = name_of(node)
        return f'<a href="#schema-{name}">{name}</a>'
    if "anyOf" in node:
        return " or ".join(_type(branch) for branch in node["anyOf"])
    if "const" in node:
        return f"<code>{escape(json.dumps(node['const']))}</code>"
    if "enum" in node:
        return ", ".join(f"<code>{escape(str(value))}</code>" for value in node["enum"])
    kind = node.get("type", "any")
    names = [kind] if isinstance(kind, str) else kind
    if "array" in names and "items" in node:
        rest = " or null" if "null" in names else ""
        return f"list of {_type(node['items'])}{rest}"
    if isinstance(node.get("additionalProperties"), dict):
        return f"map of {_type(node['additionalProperties'])}"
    return " or ".join(names) + _bounds(node)


def _bounds(node: Node) -> str:
    parts = []
    if "minimum" in node or "maximum" in node:
        low, high = node.get("minimum"), node.get("maximum")
        parts.append(f"{low:g} to {high:g}" if low is not None and high is not None else f"at least {low:g}")
    if "maxLength" in node:
        parts.append(f"at most {node['maxLength']} characters")
    return f" <small>({', '.join(parts)})</small>" if parts else ""


def _schema(name: str, node: Node) -> str:
    needed = set(node.get("required", ()))
    rows = "".join(
        f"<tr><th scope='row'><code>{escape(field)}</code>{'' if field in needed else ' <small>optional</small>'}</th>"
        f"<td>{_type(about)}</td><td>{_inline(about.get('description', ''))}</td>"
        f"<td><code>{escape(json.dumps(about['examples'][0], ensure_ascii=False)) if about.get('examples') else ''}"
        "</code></td></tr>"
        for field, about in node.get("properties", {}).items()
    )
    return (
        f'<section class="schema" id="schema-{name}"><h3>{name}</h3>{_prose(node.get("description", ""))}'
        "<table><thead><tr><th scope='col'>field</th><th scope='col'>type</th><th scope='col'>meaning</th>"
        f"<th scope='col'>example</th></tr></thead><tbody>{rows}</tbody></table></section>"
    )


def _resolve(document: Node, node: Node) -> Node:
    while "$ref" in node:
        found: Any = document
        for part in node["$ref"].removeprefix("#/").split("/"):
            found = found[part]
        node = found
    return node


def _content(content: Node) -> str:
    shown = []
    for media_type, media in content.items():
        examples = "".join(
            f"<details><summary>{escape(example['summary'])}</summary><pre>"
            f"{_json(example['value']) if not isinstance(example['value'], str) else escape(example['value'])}"
            "</pre></details>"
            for example in media.get("examples", {}).values()
        )
        kind = media.get("schema", {})
        line = f", each line {_type(kind['x-line-schema'])}" if "x-line-schema" in kind else ""
        shown.append(f"<p><code>{media_type}</code>: {_type(kind)}{line}</p>{examples}")
    return "".join(shown)


def _operation(document: Node, path: str, method: str, about: Node) -> str:
    answers = []
    for status, answer in about["responses"].items():
        resolved = _resolve(document, answer)
        body = _content(resolved["content"]) if status == "200" else ""
        answers.append(f"<dt><code>{status}</code></dt><dd>{_prose(resolved['description'])}{body}</dd>")
    parameters = "".join(
        f"<li><code>{escape(p['name'])}</code> ({p['in']}): {_inline(p['description'])}</li>"
        for p in (_resolve(document, p) for p in about.get("parameters", ()))
    )
    request = about.get("requestBody")
    asked = f"<h4>Request</h4>{_prose(request['description'])}{_content(request['content'])}" if request else ""
    return (
        f'<section class="operation" id="{about["operationId"]}">'
        f"<h3><span class='method'>{method.upper()}</span> <code>{escape(path)}</code></h3>"
        f"<p><strong>{escape(about['summary'])}</strong></p>{_prose(about['description'])}"
        f"<h4>Parameters</h4><ul>{parameters}</ul>{asked}<h4>Answers</h4><dl>{''.join(answers)}</dl></section>"
    )


def _choices(document: Node) -> tuple[str, str]:
    """Operations and examples of the form that tries them, with what it needs in data attributes and no script."""
    options = []
    for path, methods in document["paths"].items():
        for method, about in methods.items():
            if "{" in path:
                continue
            request = about.get("requestBody", {}).get("content", {})
            media_type = next(iter(request), "")
            forms = list(_resolve(document, about["responses"]["200"])["content"])
            options.append(
                f'<option value="{about["operationId"]}" data-method="{method.upper()}" data-path="{escape(path)}"'
                f' data-content-type="{media_type}" data-accept="{escape(json.dumps(forms))}">'
                f"{method.upper()} {escape(path)}</option>"
            )
    examples = []
    for path, methods in document["paths"].items():
        for about in methods.values():
            for media in about.get("requestBody", {}).get("content", {}).values():
                for name, example in media.get("examples", {}).items():
                    value = example["value"]
                    text = value if isinstance(value, str) else json.dumps(value, indent=2, ensure_ascii=False)
                    examples.append(
                        f'<option value="{name}" data-path="{escape(path)}" data-body="{escape(text)}">'
                        f"{escape(example['summary'])}</option>"
                    )
    return "".join(options), "".join(examples)


def render_page(document: Node) -> bytes:
    """Make the page.

    Parameters
    ----------
    document : dict
        The published OpenAPI document.

    Returns
    -------
    bytes
        HTML in UTF-8, without script or style of its own.
    """
    info = document["info"]
    operations = [
        (tag["name"], path, method, about)
        for tag in document["tags"]
        for path, methods in document["paths"].items()
        for method, about in methods.items()
        if tag["name"] in about["tags"]
    ]
    contents = "".join(
        f'<li><a href="#{about["operationId"]}">{method.upper()} {escape(path)}</a></li>'
        for _, path, method, about in operations
    )
    body = []
    for tag in document["tags"]:
        body.append(f"<h2>{escape(tag['name'])}</h2>{_prose(tag['description'])}")
        body += [
            _operation(document, path, method, about) for name, path, method, about in operations if name == tag["name"]
        ]
    schemas = "".join(_schema(name, node) for name, node in document["components"]["schemas"].items())
    options, examples = _choices(document)
    skeleton = files("feedproof.api").joinpath("data/docs.html").read_text(encoding="utf-8")
    return (
        Template(skeleton)
        .substitute(
            title=escape(info["title"]),
            version=info["version"],
            summary=escape(info["summary"]),
            contents=contents,
            about=_prose(info["description"]),
            options=options,
            examples=examples,
            operations="".join(body),
            schemas=schemas,
        )
        .encode()
    )
