"""Looks at a label PDF as a printer would: rendered at its dots per inch, read by a decoder that is not ours."""

import pypdfium2
import zxingcpp


def page_images(pdf, dpi):
    """Every page as a grey picture with one pixel a printer dot."""
    document = pypdfium2.PdfDocument(pdf)
    # A hair less than dpi/72, since the renderer rounds the width up: 900.0000001 dots would become 901.
    return [page.render(scale=(dpi - 1e-6) / 72).to_pil().convert("L") for page in document]


def decoded(image):
    """The texts of all QR symbols on a picture, sorted."""
    found = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)
    return sorted(barcode.text for barcode in found)


def corners(image):
    """Text → left and top of its symbol in dots."""
    found = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)
    return {barcode.text: (barcode.position.top_left.x, barcode.position.top_left.y) for barcode in found}


def dark_runs(image, row):
    """(start, length) of the dark stretches in one row of pixels."""
    pixels = [value < 128 for value in image.crop((0, row, image.width, row + 1)).tobytes()]
    runs, start = [], None
    for x, is_dark in enumerate([*pixels, False]):
        if is_dark and start is None:
            start = x
        if not is_dark and start is not None:
            runs.append((start, x - start))
            start = None
    return runs


def ink_box(image):
    """Left, top, right, bottom of everything that is not white, in dots."""
    return image.point(lambda value: 255 if value < 250 else 0).getbbox()


def text_of(pdf):
    """All text of a PDF."""
    document = pypdfium2.PdfDocument(pdf)
    return "\n".join(page.get_textpage().get_text_range() for page in document)
