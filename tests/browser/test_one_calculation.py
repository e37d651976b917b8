"""The same cases through the server's Python and through the phone's own worker in Chromium: numbers equal, texts exact."""

import json
from pathlib import Path

import pytest

from tests.vectors import parity
from tests.vectors.cases import cases
from tests.vectors.quantities import quantities
from tests.vectors.worked import worked
from webform.phone.build import OUT

pytestmark = pytest.mark.browser


def test_every_case_gets_the_same_answer_in_chromium(server, phone):
    given = cases() + worked() + quantities()
    assert len(given) >= 1400
    assets = json.loads((OUT / "sizes.json").read_text())["later"]
    named = {Path(name).name.split("-")[0] + Path(name).suffix: name for name in assets}
    requests = parity.requests(given)
    answers = phone().page.evaluate("""async ({worker, calc, micropython, requests}) => {
      const made = new Worker(worker, {type: "module"});
      const answers = [];
      const done = new Promise((resolve, reject) => { made.onmessage = ({data}) => {
        if (data.dead) reject(new Error(data.dead)); answers[data.id - 1] = data.answer;
        if (data.id === requests.length) resolve(); }; });
      made.postMessage({id: 0, calc, micropython, words: {}});
      requests.forEach((text, place) => made.postMessage({id: place + 1, request: JSON.parse(text)}));
      await done;
      return answers; }""", {"worker": named["calculation.js"], "calc": named["calculation.json"],
                            "micropython": named["python.wasm"], "requests": requests})
    found = parity.problems(parity.shared_files(), given, [json.dumps(answer) for answer in answers])
    assert found == []
