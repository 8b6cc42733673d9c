"""Small drawings for tests."""

from letterply.lettering.artwork.drawing import draw
from letterply.lettering.artwork.parser import read_artwork

__all__ = ["area", "read", "region", "svg", "told"]


def svg(body: str, root: str = 'width="100" height="100"') -> bytes:
    """Return a drawing as a file."""
    names = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f"<svg {names} {root}>{body}</svg>".encode()


def read(body: str, root: str = 'width="100" height="100"'):
    """Return a drawing as artwork."""
    return read_artwork("test", svg(body, root))


def region(body: str, scale: float = 1.0, tolerance: float = 1e-4):
    """Return what a drawing fills, a pixel a millimetre."""
    return draw(read(body), scale, tolerance)


def area(body: str) -> float:
    """Return how much it fills."""
    return region(body).area


def told(artwork) -> dict[str, int]:
    """Return what was left out -> how often."""
    return {n.what: n.count for n in artwork.left_out}
