"""Labels measured and read back: sizes from the PDF's boxes, modules in printer dots, symbols by zxing-cpp."""

import pypdfium2
import pytest

from tests.labels.pictures import corners, dark_runs, decoded, ink_box, page_images, text_of
from webform import tags
from webform.labels import LAYOUTS, Label, Printing, labels_pdf
from webform.labels.drawing import fits
from webform.trade.tag_code import read

WORDS = "Heat and wash destroy labels: tie it where cleaning does not reach."
# 25.4 mm an inch. Module: 7 dots at 203 dpi = 0.8759 mm, 11 dots at 300 dpi = 0.9313 mm.
DOTS = {203: 7, 300: 11}


def labels(count, make=tags.symbol_of, **more):
    codes = [tags.new_code() for _ in range(count)]
    return [Label(code, make(code), **more) for code in codes]


def printing(dpi, inset=0.0):
    return Printing(dpi, inset, WORDS, "Tag labels")


def address_symbol(code):
    return tags.address_symbol_of(code, "https://ashbook.lan")


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("layout", ["a4", "letter", "roll"])
@pytest.mark.parametrize("inset", [0.0, 0.1])
def test_every_label_of_a_full_page_is_read_by_another_decoder(layout, dpi, inset):
    made = labels(LAYOUTS[layout].places, model="TEST-290", serial="Serial …1001")
    pages = page_images(labels_pdf(made, LAYOUTS[layout], printing(dpi, inset)), dpi)
    assert len(pages) == 1
    texts = decoded(pages[0])
    assert texts == sorted(label.code for label in made)
    assert all(read(text)["ok"] for text in texts)


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("layout", ["a4", "letter", "roll"])
def test_every_address_label_is_read_and_leads_to_its_code(layout, dpi):
    made = labels(LAYOUTS[layout].places, address_symbol, model="TEST-290", serial="Serial …1001")
    pages = page_images(labels_pdf(made, LAYOUTS[layout], printing(dpi)), dpi)
    assert sorted(read(text)["code"] for text in decoded(pages[0])) == sorted(label.code for label in made)


@pytest.mark.parametrize("dpi", [203, 300])
def test_every_dark_stretch_is_a_whole_number_of_modules_wide(dpi):
    label = labels(1)[0]
    image = page_images(labels_pdf([label], LAYOUTS["roll"], printing(dpi)), dpi)[0]
    dots = DOTS[dpi]
    left, top, _right, _bottom = ink_box(image)
    for row, line in enumerate(label.matrix):
        expected, x = [], 0
        for is_dark in [*line, False]:
            if is_dark:
                x += 1
            elif x:
                expected.append(x * dots)
                x = 0
        found = [length for start, length in dark_runs(image, top + row * dots + dots // 2) if start < left + 21 * dots]
        assert found == expected, f"row {row}"


@pytest.mark.parametrize(("dpi", "finder_dots"), [(203, 49), (300, 77)])
def test_a_finder_pattern_is_seven_modules_wide_and_high_on_every_label_of_a_sheet(dpi, finder_dots):
    made = labels(24)
    image = page_images(labels_pdf(made, LAYOUTS["a4"], printing(dpi)), dpi)[0]
    for x, y in corners(image).values():
        row = [run for run in dark_runs(image, y + 2) if abs(run[0] - x) <= 2]
        column = [run for run in dark_runs(image.transpose(5), x + 2) if abs(run[0] - y) <= 2]  # 5: rows for columns
        # A sheet's width is no whole number of dots (A4: 1678.3 at 203 dpi), so the renderer may be one off.
        assert len(row) == len(column) == 1
        assert abs(row[0][1] - finder_dots) <= 1
        assert abs(column[0][1] - finder_dots) <= 1


@pytest.mark.parametrize(("layout", "width_mm", "height_mm"), [
    ("a4", 210.0, 297.0), ("letter", 215.9, 279.4), ("roll", 76.2, 50.8)])  # ISO 216; ANSI/ASME Y14.1; 3 x 2 in
def test_a_page_is_exactly_as_large_as_its_paper(layout, width_mm, height_mm):
    document = pypdfium2.PdfDocument(labels_pdf(labels(1), LAYOUTS[layout], printing(203)))
    left, bottom, right, top = document[0].get_mediabox()
    assert (left, bottom) == (0, 0)
    assert right * 25.4 / 72 == pytest.approx(width_mm, abs=0.001)
    assert top * 25.4 / 72 == pytest.approx(height_mm, abs=0.001)


@pytest.mark.parametrize(("layout", "across_mm", "down_mm", "columns"), [("a4", 70.0, 36.0, 3),
                                                                         ("letter", 101.6, 50.8, 2)])
def test_labels_stand_as_far_apart_as_the_label_stock(layout, across_mm, down_mm, columns):
    made = labels(LAYOUTS[layout].places)
    places = corners(page_images(labels_pdf(made, LAYOUTS[layout], printing(300)), 300)[0])
    dot_mm = 25.4 / 300
    at = [places[label.code] for label in made]
    for place in range(len(at) - columns):
        assert (at[place + columns][1] - at[place][1]) * dot_mm == pytest.approx(down_mm, abs=0.2)
    for place in range(len(at) - 1):
        if (place + 1) % columns:
            assert (at[place + 1][0] - at[place][0]) * dot_mm == pytest.approx(across_mm, abs=0.2)


@pytest.mark.parametrize("layout", ["a4", "letter"])
@pytest.mark.parametrize("make", [tags.symbol_of, address_symbol])
def test_no_ink_stands_where_office_printers_cannot_print(layout, make):
    made = labels(LAYOUTS[layout].places, make, model="W" * 200, serial="Serial …" + "W" * 200)
    image = page_images(labels_pdf(made, LAYOUTS[layout], printing(300)), 300)[0]
    left, top, right, bottom = ink_box(image)
    margin_dots = 4.2 / 25.4 * 300  # 4.2 mm, common practice of office printers, no source
    assert min(left, top, image.width - right, image.height - bottom) >= margin_dots


def test_the_quiet_zone_of_four_modules_is_white():
    label = labels(1, model="TEST-290 of a long name", serial="Serial …1001")[0]
    image = page_images(labels_pdf([label], LAYOUTS["roll"], printing(203)), 203)[0]
    x, y = corners(image)[label.code]
    side, quiet = 21 * 7, 4 * 7
    around = image.crop((x - quiet, y - quiet, x + side + quiet, y + side + quiet))
    around.paste(255, (quiet - 1, quiet - 1, quiet + side + 1, quiet + side + 1))
    assert around.getextrema()[0] == 255


@pytest.mark.parametrize("layout", ["a4", "letter"])
def test_the_ruler_mark_of_a_sheet_is_50_mm_long(layout):
    low = Label("JQJYQJ333", tags.symbol_of("JQJYQJ333"))  # J and Q reach below the line: they must not touch the ruler
    image = page_images(labels_pdf([low, *labels(2)], LAYOUTS[layout], printing(203)), 600)[0]
    longest = max(length for row in range(100, 1200) for _start, length in dark_runs(image, row))
    # From the outer edge of one mark to the outer edge of the other: 50 mm and one mark's width, 0.15 mm.
    assert longest / 600 * 25.4 == pytest.approx(50.15, abs=0.1)
    assert "50 mm" in text_of(labels_pdf(labels(3), LAYOUTS[layout], printing(203)))


def test_a_label_says_code_model_serial_and_where_it_belongs():
    label = Label("7K3M9QX07", tags.symbol_of("7K3M9QX07"), "TEST-290", "Serial …1001")
    text = text_of(labels_pdf([label], LAYOUTS["roll"], printing(203)))
    for piece in ("7K3 M9QX 07", "TEST-290", "Serial …1001", "Heat and wash destroy labels"):
        assert piece in text


def test_labels_go_on_at_the_first_free_place_and_on_further_pages():
    made = labels(30)
    pages = page_images(labels_pdf(made, LAYOUTS["a4"], printing(203), first_place=20), 203)
    assert [len(decoded(page)) for page in pages] == [4, 24, 2]
    first = corners(pages[0])[made[0].code]
    assert first[0] > 2 * 70 / 25.4 * 203  # place 20 stands in the third column of the seventh row
    assert first[1] > 6 * 36 / 25.4 * 203


@pytest.mark.parametrize("text", [
    "<b>&lt;</b>", "]]><para>", "a\x00b\x1f", "\u202egnp.exe", "\u2066\u2069", "𝄞🚚", "漢字 한글 עברית العربية",
    "\ud800", "W" * 5000, "\n" * 50, "%s {0} {code}", "(\\) Tj ET Q"])
def test_hostile_text_in_model_and_serial_never_breaks_a_label(text):
    label = Label("7K3M9QX07", tags.symbol_of("7K3M9QX07"), text, text)
    pdf = labels_pdf([label], LAYOUTS["roll"], printing(203))
    assert decoded(page_images(pdf, 203)[0]) == ["7K3M9QX07"]
    assert "7K3 M9QX 07" in text_of(pdf)
    assert "\u202e" not in text_of(pdf)


def test_markup_in_a_model_is_printed_as_it_was_typed():
    label = Label("7K3M9QX07", tags.symbol_of("7K3M9QX07"), "<b>X</b>&amp;", "")
    assert "<b>X</b>&amp;" in text_of(labels_pdf([label], LAYOUTS["roll"], printing(203)))


def test_the_same_labels_give_the_same_bytes():
    label = labels(1)
    assert labels_pdf(label, LAYOUTS["a4"], printing(203)) == labels_pdf(label, LAYOUTS["a4"], printing(203))


def test_a_symbol_that_is_larger_than_the_label_does_not_fit():
    large = tags.address_symbol_of("7K3M9QX07", "https://a-rather-long-name-of-a-host.example.test")
    # 33 modules and 8 quiet ones, 41 x 0.9313 = 38.2 mm at 300 dpi, higher than 36 mm.
    assert len(large) == 33
    assert not fits(large, LAYOUTS["a4"], 300)
    assert fits(large, LAYOUTS["letter"], 300)
