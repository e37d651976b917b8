"""Two phones without a server answer one field of one job differently and different fields of another; both sync; the
desk sees two answers, settles one, and both phones show it. Readings invented."""

import pytest

pytestmark = pytest.mark.browser


def flow(phone, job, drop):
    phone.go(f"#/job/{job}/after.flow")
    phone.pick("field-bench-good")
    phone.fill("field-drop", drop)
    phone.save()


def test_the_desk_settles_what_two_phones_answered_differently(server, two_phones, office):
    one, two = two_phones
    server.kill()
    flow(one, "job:demo1", "1.79")  # same field of one job
    flow(two, "job:demo1", "2.40")
    one.go("#/job/job:demo4/before.light")  # different fields of another
    one.pick("field-kind-none")
    one.save()
    two.go("#/job/job:demo4/owner_answer")
    two.pick("field-answer-clean")
    two.save()
    server.start()
    one.sync()
    two.sync()
    one.sync()
    for each in (one, two):
        each.go("#/job/job:demo1")
        each.page.locator("[data-testid=verdict][data-verdict=hold]").wait_for()
    office.page.goto(server.url + "/office/")
    assert "1 to settle" in office.page.get_by_role("main").inner_text()
    office.page.goto(server.url + "/office/questions")
    assert office.page.get_by_role("navigation").inner_text().count("1") == 1  # the count, and nothing else of it
    assert "{" not in office.page.locator("body").inner_text()
    question = office.page.get_by_test_id("question")
    assert question.count() == 1  # nobody is asked about different fields
    assert "1.79 inH2O" in question.inner_text() and "2.40 inH2O" in question.inner_text()
    question.locator(".answer").filter(has_text="1.79").get_by_test_id("pick").click()
    assert office.page.get_by_test_id("question").count() == 0
    for each in (one, two):
        each.sync()
        each.go("#/job/job:demo1")
        each.page.locator("[data-testid=verdict][data-verdict=ok_to_reinstall]").wait_for()
    office.page.goto(server.url + "/office/jobs/demo4")
    assert "No light" in office.page.content() and "Clean it" in office.page.content()
