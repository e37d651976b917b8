"""The description of the wire for other people's programs (OpenAPI 3.1), made from the shapes that the server parses with."""

from collections.abc import Iterable, Mapping
from typing import Any

from marshmallow import fields, validate

from .shapes import Route, Shape, Texts

JSON = "application/json"
PACKED = {"name": "Content-Encoding", "in": "header", "required": False, "schema": {"enum": ["gzip", "identity"]}}
SIMPLE = ((fields.String, "string"), (fields.Integer, "integer"), (fields.Boolean, "boolean"))


def describe(routes: Iterable[Route], *, title: str, version: str, prefix: str,
             schemes: Mapping[str, Any], security: Mapping[str, list[dict[str, Any]]]) -> dict[str, Any]:
    """The OpenAPI document. schemes: the deployment's credentials by name; security: route name → what it asks for."""
    shapes: dict[str, Any] = {}
    paths: dict[str, Any] = {}
    for route in routes:
        item = paths.setdefault(f"{prefix}/{route.path or route.name}", {})
        item[route.method] = _operation(route, security[route.name], shapes)
    return {"openapi": "3.1.0", "info": {"title": title, "version": version,
                                         "description": "What the fields mean: sync/PROTOCOL.md."},
            "paths": paths, "components": {"schemas": {name: shapes[name] for name in sorted(shapes)},
                                           "securitySchemes": dict(schemes)}}


def _operation(route: Route, security: list[dict[str, Any]], shapes: dict[str, Any]) -> dict[str, Any]:
    by_status: dict[int, list[str]] = {}
    for status, code in route.errors:
        by_status.setdefault(status, []).append(code)
    content = {JSON: {"schema": _ref(route.answer, shapes)}, **({route.drawn: {}} if route.drawn else {})}
    answers: dict[str, Any] = {"200": {"description": _about(route.answer), "content": content}}
    for status in sorted(by_status):
        answers[str(status)] = {"description": "Refused whole: " + ", ".join(sorted(set(by_status[status]))),
                                "content": {JSON: {"schema": _error(sorted(set(by_status[status])))}}}
    told: dict[str, Any] = {"operationId": route.name, "summary": route.about, "security": security, "responses": answers,
                            "parameters": [dict(parameter) for parameter in route.parameters]}
    if route.request is not None:
        told["parameters"].append(PACKED)
        told["requestBody"] = {"required": True, "content": {JSON: {"schema": _ref(route.request, shapes)}}}
    elif route.method == "put":
        told["requestBody"] = {"required": True, "content": {"application/octet-stream": {}}}
    return told


def _error(codes: list[str]) -> dict[str, Any]:
    inside = {"type": "object", "required": ["code", "text", "details"],
              "properties": {"code": {"enum": codes}, "text": {"type": "string"}, "details": {}}}
    return {"type": "object", "required": ["error"], "properties": {"error": inside}}


def _ref(shape: Shape, shapes: dict[str, Any]) -> dict[str, Any]:
    """A reference to a shape's schema, which is put into shapes with all that it names."""
    name = type(shape).__name__
    if name not in shapes:
        shapes[name] = {}  # its place is taken before its fields are asked
        shapes[name].update({
            "type": "object", "description": _about(shape),
            "required": [key for key, field in shape.fields.items() if field.required],
            "properties": {key: _schema(field, shapes) for key, field in shape.fields.items()}})
    return {"$ref": f"#/components/schemas/{name}"}


def _schema(field: Any, shapes: dict[str, Any]) -> dict[str, Any]:
    made = _bare(field, shapes)
    if field.allow_none and "$ref" in made:
        return {"anyOf": [made, {"type": "null"}]}
    if field.allow_none and "type" in made:
        return {**made, "type": [made["type"], "null"]}
    return made


def _bare(field: Any, shapes: dict[str, Any]) -> dict[str, Any]:
    """The schema of a field that is not null."""
    if isinstance(field, fields.Nested):
        return _ref(field.schema, shapes)  # type: ignore[arg-type]
    if isinstance(field, Texts):
        return {"type": "array", "items": {"type": "string"}, **_limits(field, "Items")}
    if isinstance(field, fields.List):
        return {"type": "array", "items": _schema(field.inner, shapes)}
    if isinstance(field, fields.Dict):
        inner = field.value_field
        return {"type": "object", **({"additionalProperties": _schema(inner, shapes)} if inner is not None else {})}
    for kind, name in SIMPLE:
        if isinstance(field, kind):
            return {"type": name, **_limits(field, "Length")}
    return {}


def _limits(field: Any, counted: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for rule in field.validators:
        if isinstance(rule, validate.OneOf):
            found["enum"] = list(rule.choices)
        elif isinstance(rule, validate.Range):
            found.update({name: limit for name, limit in (("minimum", rule.min), ("maximum", rule.max)) if limit is not None})
        else:  # a limit of length is the only other rule of the shapes
            found["max" + counted] = rule.max
    return found


def _about(shape: Shape) -> str:
    return " ".join((type(shape).__doc__ or "").split())
