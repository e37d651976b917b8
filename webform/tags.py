"""New tag codes, and the QR symbol of a tag.

By default a symbol holds the code and nothing else, in capital letters: version 1, level H, 21 modules, so that the
modules are large and a third of them may be dirt. A shop that wants any camera app to open the filter's page may choose
the address in front: at least version 3, level Q, 29 modules. It pays with reading distance: held before a camera on
the bench, labels with the code alone were read up to 55 cm away, those with an address up to 35 cm.
Capacities and sizes: ISO/IEC 18004, Table 7; 17 + 4 x version modules a side, quiet zone of 4 modules.
"""

import secrets

import qrcode
from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_Q
from qrcode.exceptions import DataOverflowError
from qrcode.util import MODE_ALPHA_NUM, QRData

from .trade.tag_code import ALPHABET, BODY_LENGTH, complete, is_strong, read

QUIET_MODULES = 4
LEVELS = {"H": ERROR_CORRECT_H, "Q": ERROR_CORRECT_Q}
MOST_VERSION = 6
QR_LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

Matrix = list[list[bool]]


class Unfit(ValueError):
    """The text does not go into a symbol of the allowed size; `code` is the catalogue's key, `values` its values."""

    def __init__(self, code: str, **values: object) -> None:
        super().__init__(code)
        self.code = code
        self.values = values


def new_code() -> str:
    """A code of nine characters drawn at random, of which every one-character slip fails its check."""
    while True:
        body = "".join(secrets.choice(ALPHABET) for _place in range(BODY_LENGTH))
        if is_strong(body):
            return complete(body)


def grouped(code: str) -> str:
    """The code as people read it out: "7K3 M9QX 42"."""
    return code[:3] + " " + code[3:7] + " " + code[7:]


def symbol_of(code: str) -> Matrix:
    """The symbol that holds the code alone: version 1, level H; True is a dark module."""
    _must_be_a_tag(code)
    return symbol(code, "H", 1)


def address_symbol_of(code: str, address: str) -> Matrix:
    """The symbol that holds the address of the filter's page: level Q, version 3 or, where that is too small, more."""
    _must_be_a_tag(code)
    text = address_text(code, address)
    for version in range(3, MOST_VERSION + 1):
        try:
            return symbol(text, "Q", version)
        except Unfit:
            continue
    raise Unfit("label.address_long", count=len(text))


def address_text(code: str, address: str) -> str:
    """What the symbol says: HTTPS://HOST/T/CODE, in capital letters, which hosts read like small ones."""
    base = address.strip().upper().rstrip("/")
    host = base.partition("://")[2]
    text = base + "/T/" + code
    is_plain = base.startswith(("HTTP://", "HTTPS://")) and host and not any(char in host for char in "/ $%*+")
    if not is_plain or not all(char in QR_LETTERS for char in text) or not read(text)["ok"]:
        raise Unfit("label.address_unfit", given=address)
    return text


def symbol(text: str, level: str, version: int) -> Matrix:
    """The symbol of that version and level in alphanumeric mode, without quiet zone; Unfit where the text is longer."""
    made = qrcode.QRCode(version=version, error_correction=LEVELS[level], box_size=1, border=0)
    made.add_data(QRData(text, mode=MODE_ALPHA_NUM))
    try:
        made.make(fit=False)
    except DataOverflowError as problem:
        raise Unfit("label.address_long", count=len(text)) from problem
    return made.get_matrix()


def _must_be_a_tag(code: str) -> None:
    if read(code).get("code") != code or read(code).get("kind") != "tag":
        raise Unfit("label.no_tag", given=code)
