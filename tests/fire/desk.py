"""The office as a person in a browser: signs in, reads the questions, settles one, has held changes tried again."""

import html
import json
import re
import urllib.parse
from html.parser import HTMLParser

from .process import PASSWORD


class Desk:
    """The desk of one shop, by its pages."""

    def __init__(self, place):
        self.place, self.cookies = place, {}

    def sign_in(self):
        """Signs the office in."""
        self._send("/office/login", self._get("/office/login"), name="office", password=PASSWORD)

    def questions(self):
        """The forms of all questions: {"record": [...], "field": [...], "ids": [...], "pick": [...], "csrf_token": [...]}."""
        return [form for form in self._get("/office/questions") if "field" in form]

    def settle(self, form, pick):
        """Settles one question by the answer that was picked; what the form showed is what it replaces."""
        given = {name: form[name] for name in ("record", "field", "ids", "csrf_token")}
        self._send("/office/questions", [given], pick=pick)

    def held(self):
        """The texts of the changes that the desk is shown as held."""
        texts = re.findall(r'<pre tabindex="0">(.*?)</pre>', self._page("/office/held"), re.DOTALL)
        return [json.loads(html.unescape(text)) for text in texts]

    def retry(self):
        """Has the held changes tried again, where the desk is offered to."""
        forms = [form for form in self._get("/office/held") if form.get("action") == ["/office/held"]]
        if forms:
            self._send("/office/held", [{"csrf_token": forms[0]["csrf_token"]}])

    def _get(self, path):
        return forms_in(self._page(path))

    def _page(self, path):
        status, _, text = self._ask("GET", path)
        assert status == 200, (path, status, text[:500])
        return text

    def _send(self, path, forms, **more):
        given = {**next(form for form in forms if "csrf_token" in form), **{name: [value] for name, value in more.items()}}
        body = urllib.parse.urlencode(given, doseq=True).encode()
        status, _, text = self._ask("POST", path, body, {"Content-Type": "application/x-www-form-urlencoded"})
        assert status == 302, (path, more, status, text[:2000])

    def _ask(self, method, path, body=b"", headers=None):
        cookie = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        status, found, text = self.place.ask(method, path, body, {**(headers or {}), "Cookie": cookie})
        for name, value in re.findall(r"(\w+)=([^;]*);", found.get("Set-Cookie", "")):
            if name == "ashbook_office":
                self.cookies[name] = value
        return status, found, text


class Forms(HTMLParser):
    """Collects the named inputs and buttons of each form, and where it goes."""

    def __init__(self):
        super().__init__()
        self.forms = []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag == "form":
            self.forms.append({"action": [given.get("action", "")]})
        elif tag in ("input", "button") and self.forms and given.get("name"):
            self.forms[-1].setdefault(given["name"], []).append(given.get("value") or "")


def forms_in(page):
    """The forms of a page, in their order."""
    reader = Forms()
    reader.feed(page)
    return reader.forms
