"""What the tests of orders share: the catalogue, the library, a quick way to read an order."""

from letterply.catalogue.loading import load_catalogue
from letterply.errors import InputError
from letterply.lettering.fonts.library import shipped_faces
from letterply.orders.intake.reading import read_order

CATALOGUE = load_catalogue()


def in_the_library(key):
    """Tell whether a font is shipped."""
    return key in shipped_faces()


def read(request=None, table=None, charset=None):
    """Return an order; `rack-sign` is its usual recipe."""
    request = {"recipe": "rack-sign"} if request is None else request
    if isinstance(table, str):
        table = table.encode()
    return read_order(request, CATALOGUE, in_the_library, table=table, charset=charset)


def refusal(request=None, table=None, charset=None):
    """Return the error with which an order is refused."""
    try:
        read(request, table, charset)
    except InputError as error:
        return error
    raise AssertionError("the order was accepted")
