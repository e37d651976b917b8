"""The desk's page for tag labels: choose paper, printer, number; the answer is a PDF.

A wrong entry comes back with a sentence and with everything as it was typed.
"""

from dataclasses import dataclass

from flask import Blueprint, Response, current_app, render_template, request

from sync import lookup as log

from ..lettering import printable
from ..tags import Unfit, address_symbol_of, symbol_of
from ..trade.tag_code import read
from ..trade.words import sentence
from ..words import catalogue
from .drawing import Label, Printing, fits, labels_pdf
from .layout import DOTS_PER_MODULE, LAYOUTS
from .printed import new_codes

blueprint = Blueprint("labels", __name__, template_folder="templates")

MOST_LABELS = 480
INSET_DOTS = 0.1
START = {"layout": "a4", "dpi": "203", "count": "24", "first": "1", "content": "code", "address": "", "code": "",
         "inset": ""}


@dataclass(frozen=True)
class Choice:
    """What the form asked for, understood."""

    layout: str
    dpi: int
    count: int
    first: int
    address: str | None
    code: str | None
    inset: bool


class Wrong(ValueError):
    """One field that cannot be used: its name, and the catalogue's key and values for the sentence."""

    def __init__(self, field: str, code: str, values: dict[str, object]) -> None:
        super().__init__(code)
        self.field, self.code, self.values = field, code, values


@blueprint.get("/office/labels")
def page() -> str:
    """The form; ?code=... asks for one tag to be printed again."""
    typed = {**START, "address": request.host_url.rstrip("/")}
    if request.args.get("code"):
        typed.update(code=request.args["code"][:40], count="1", layout="roll")
    return _form(typed, None)


@blueprint.post("/office/labels")
def pdf() -> Response | tuple[str, int]:
    """The PDF, or the form again with a sentence at the field that is wrong."""
    typed = {name: request.form.get(name, "")[:400] for name in START}
    try:
        made = label_pdf(current_app.extensions["shop"], choice_of(typed))
    except Wrong as wrong:
        return _form(typed, wrong), 422
    answer = Response(made, mimetype="application/pdf")
    answer.headers["Content-Disposition"] = "inline; filename=tag-labels.pdf"
    answer.headers["Cache-Control"] = "no-store"
    return answer


def choice_of(typed: dict[str, str]) -> Choice:
    """The form's texts as a choice, or Wrong. The size of a sheet bounds the first place."""
    words = catalogue()
    for field, allowed in (("layout", list(LAYOUTS)), ("dpi", [str(dpi) for dpi in DOTS_PER_MODULE]),
                           ("content", ["code", "address"])):
        if typed[field] not in allowed:
            raise Wrong(field, "label.no_choice", {"field": words["label." + field]})
    places = LAYOUTS[typed["layout"]].places
    first = _whole(typed["first"], 1, places)
    if first is None:
        raise Wrong("first", "label.first_wrong", {"most": places, "given": typed["first"]})
    count = _whole(typed["count"], 1, MOST_LABELS)
    if count is None:
        raise Wrong("count", "label.count_wrong", {"most": MOST_LABELS, "given": typed["count"]})
    code = None
    if typed["code"].strip():
        found = read(typed["code"])
        if found.get("kind") != "tag":
            raise Wrong("code", "label.no_tag", {"given": printable(typed["code"], 40)})
        code = str(found["code"])
    return Choice(typed["layout"], int(typed["dpi"]), count, first,
                  typed["address"] if typed["content"] == "address" else None, code, bool(typed["inset"]))


def label_pdf(shop, choice: Choice) -> bytes:
    """The PDF of a choice: `count` new codes, or one tag's label `count` times. shop: webform.shop.Shop."""
    words = catalogue()
    model, serial = _filter_of(shop.store, choice.code, words) if choice.code else ("", "")
    if choice.code:
        codes = [choice.code] * choice.count
    else:
        _symbol("0" * 7 + "98", choice)  # refuses an unfit address before any code is used up
        codes = new_codes(shop.store, choice.count)
    labels = [Label(code, _symbol(code, choice), model, serial) for code in codes]
    printing = Printing(choice.dpi, INSET_DOTS if choice.inset else 0.0, words["label.carrier"], words["label.title"])
    return labels_pdf(labels, LAYOUTS[choice.layout], printing, choice.first - 1)


def _symbol(code: str, choice: Choice) -> list[list[bool]]:
    if choice.address is None:
        return symbol_of(code)
    try:
        matrix = address_symbol_of(code, choice.address)
    except Unfit as unfit:
        raise Wrong("address", unfit.code, unfit.values) from unfit
    if not fits(matrix, LAYOUTS[choice.layout], choice.dpi):
        raise Wrong("address", "label.symbol_large", {})
    return matrix


def _filter_of(store, code: str, words: dict[str, str]) -> tuple[str, str]:
    """(model's part number, "Serial …1001") of the filter that a tag leads to; Wrong where it leads to none."""
    filter_id = _used(log.view(store, "tag:" + code), "filter")
    if filter_id is None:
        raise Wrong("code", "label.no_filter", {"code": code})
    view = log.view(store, filter_id)
    model_id, serial = _used(view, "model"), printable(_used(view, "serial") or "")
    model = printable(_used(log.view(store, model_id), "number") or "") if model_id else ""
    return model, sentence(words, "label.serial", {"end": serial[-4:]}) if serial else ""


def _used(view: dict | None, field: str) -> str | None:
    return None if view is None or field not in view["fields"] else view["fields"][field]["used"]


def _whole(text: str, low: int, high: int) -> int | None:
    plain = text.strip()
    if not plain.isascii() or not plain.isdigit() or len(plain) > 6 or not low <= int(plain) <= high:
        return None
    return int(plain)


def _form(typed: dict[str, str], wrong: Wrong | None) -> str:
    words = catalogue()
    problem = None if wrong is None else {"field": wrong.field, "text": sentence(words, wrong.code, wrong.values)}
    return render_template("labels.html", typed=typed, wrong=problem, words=words, layouts=list(LAYOUTS.values()),
                           dots=DOTS_PER_MODULE)
