"""What a stranger's QR code before the camera may do: get a sentence, and nothing else."""

import pytest

from tests.browser.conftest import camera_file
from tests.browser.test_whole_job import TAG, ready
from webform.trade.tag_code import ENROL

pytestmark = pytest.mark.browser

WRONG = TAG[:-1] + str((int(TAG[-1]) + 1) % 10)
# common practice, no source: what is printed on labels that hang about in a workshop, and what a joker would print
CODES = ("javascript:document.body.remove()", "https://example.org/phone?x=" + "A" * 200, WRONG,
         "<img src=x onerror=alert(1)>", "\u202e70XQ9M3K7", "WIFI:T:WPA;S:harbour;P:lane;;", ENROL + "ABCDEFGHJKMN")


def test_a_foreign_broken_or_hostile_code_gets_a_sentence_and_moves_nothing(server, phone, tmp_path):
    one = ready(server, phone, TAG)
    for number, text in enumerate(CODES):
        one.end()
        one.camera = camera_file(tmp_path / f"hostile-{number}.mjpeg", text)
        one.open("/phone/#/scan")
        one.page.on("dialog", lambda dialog: pytest.fail(dialog.message))
        problem = one.page.get_by_test_id("scan-problem")
        problem.and_(one.page.locator(":not([hidden])")).wait_for()
        assert len(problem.inner_text()) > 20, text
        assert problem.locator("*").count() == 0, text  # a text stays a text
        assert one.page.evaluate("location.hash") == "#/scan", text
        assert one.page.url.startswith(server.url), text
        assert one.page.locator("#screen h1").count() == 1, text
    assert one.waiting() == 0
