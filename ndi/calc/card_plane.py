"""The plane of a flat card seen by a camera: places on it in millimetres, with the uncertainty that its marks leave.

Source: a plane is seen through a homography (R. Hartley, A. Zisserman, Multiple
View Geometry, 2nd ed., 2.3, 4.1); a lens bends it along rays from the middle of
the picture (D. C. Brown 1966), here by one term of third order; the uncertainty
is propagated to first order (JCGM 100:2008, 5.2).  The picture itself is not
read here: marks come as pixels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import hypot, sqrt
from typing import Any

from ndi.domain.errors import InputError

Point = tuple[float, float]
Array = Any  # the library of arrays is loaded when a plane is first fitted

# how far a lens may move a point at half the picture's diagonal, as a share of that (one standard deviation):
# from memory, zoom lenses and telephones; no limit of any procedure
LENS = 0.03
# what is at least assumed of a mark's corner, in pixels; nothing in a picture is known better than that (own choice)
LEAST_NOISE = 0.05
_STEPS = 12
_PARAMETERS = 9  # eight of the homography, one of the lens


@dataclass(frozen=True)
class MarkPoint:
    """A corner of a mark: where it was seen, and where it is on the card."""

    x_px: float
    y_px: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True)
class Plane:
    """A fitted plane.  ``noise_px`` is what the marks scatter by, ``freedom`` from how many spare measurements that is known."""

    matrix: Array = field(compare=False, repr=False)  # millimetres to straightened, centred, scaled pixels, 3 x 3
    lens: float
    middle: Point
    radius: float
    covariance: Array = field(compare=False, repr=False)  # of the parameters that were fitted
    noise_px: float
    freedom: int
    residual_px: float  # root mean square

    def at(self, points: Sequence[Point]) -> Array:
        """Places in the picture as millimetres on the card, one row each; InputError for one beyond the horizon."""
        return _mapped(_vector(self), self._scaled(points))

    def seen(self, places: Sequence[Point]) -> list[Point]:
        """Where places on the card are seen in the picture."""
        numpy = _numpy()
        straight = _projected(self.matrix, numpy.asarray(places, float))
        bent = straight.copy()
        for _ in range(_STEPS):
            bent = straight / (1 + self.lens * (bent**2).sum(axis=1))[:, None]
        return [(float(x * self.radius + self.middle[0]), float(y * self.radius + self.middle[1])) for x, y in bent]

    def covariance_at(self, points: Sequence[Point]) -> Array:
        """Covariance of the millimetres at some places, as far as the marks leave it: x and y of each in turn."""
        numpy = _numpy()
        scaled, vector = self._scaled(points), _vector(self)
        columns = []
        for number in range(_PARAMETERS):
            step = 1e-6 * max(1.0, abs(vector[number]))
            moved = [vector.copy(), vector.copy()]
            moved[0][number] += step
            moved[1][number] -= step
            columns.append(((_mapped(moved[0], scaled) - _mapped(moved[1], scaled)) / (2 * step)).ravel())
        slopes = numpy.column_stack(columns)
        return slopes @ self.covariance @ slopes.T

    def slopes(self, points: Sequence[Point]) -> Array:
        """Millimetres moved by one pixel at each place: a matrix of two by two each."""
        numpy = _numpy()
        found = []
        for x, y in points:
            around = self.at([(x + 0.5, y), (x - 0.5, y), (x, y + 0.5), (x, y - 0.5)])
            found.append(numpy.column_stack([around[0] - around[1], around[2] - around[3]]))
        return numpy.asarray(found)

    def millimetres_per_pixel(self, point: Point) -> Scale:
        """The scale at one place, with one standard deviation of it."""
        numpy = _numpy()
        x, y = point
        square = [(x + 0.5, y), (x - 0.5, y), (x, y + 0.5), (x, y - 0.5)]

        def size(places: Array) -> float:
            one, other = places[0] - places[1], places[2] - places[3]
            return sqrt(abs(one[0] * other[1] - one[1] * other[0]))

        base = self.at(square)
        gradient = numpy.zeros(8)
        step = 1e-4 * size(base)
        for number in range(8):
            moved = base.copy()
            moved.flat[number] += step
            gradient[number] = (size(moved) - size(base)) / step
        along = numpy.linalg.svd(self.slopes([point])[0], compute_uv=False)
        sd = sqrt(max(0.0, float(gradient @ self.covariance_at(square) @ gradient)))
        return Scale(size(base), float(along[1]), float(along[0]), sd)

    def _scaled(self, points: Sequence[Point]) -> Array:
        return (_numpy().asarray(points, float) - self.middle) / self.radius


@dataclass(frozen=True)
class Scale:
    """Millimetres of one pixel: the mean of all directions, the finest and the coarsest direction, and one standard deviation."""

    mean: float
    finest: float
    coarsest: float
    sd: float


def fit(
    marks: Sequence[MarkPoint],
    picture: tuple[int, int],
    *,
    noise_px: float | None = None,
    least_noise_px: float = LEAST_NOISE,
    lens: float = LENS,
) -> Plane:
    """The plane through marks seen in a picture of ``picture`` pixels (width, height).

    ``noise_px`` is one standard deviation of a mark's corner where it is known
    from elsewhere; without it the marks' own scatter says it, at least
    ``least_noise_px``, which needs more than four marks.  ``lens`` 0 takes the
    lens as straight.  InputError for fewer than four marks, for marks on one
    line, for marks that no camera sees like that.
    """
    numpy = _numpy()
    if len(marks) < 4:
        raise InputError(f"{len(marks)} places of the card are known: four or more fix its plane")
    if noise_px is None and len(marks) < 6:
        raise InputError(
            f"{len(marks)} places of the card do not tell how well they were found: say it (noise in pixels)"
        )
    middle, radius = (picture[0] / 2, picture[1] / 2), hypot(*picture) / 2
    seen = (numpy.asarray([(m.x_px, m.y_px) for m in marks], float) - middle) / radius
    places = numpy.asarray([(m.x_mm, m.y_mm) for m in marks], float)
    vector = numpy.append(_first_guess(places, seen), 0.0)
    free = _PARAMETERS if lens > 0 else _PARAMETERS - 1
    sigma = (noise_px or 1.0) / radius
    for _ in range(_STEPS):
        misfit, slopes = _misfit(vector, places, seen, free)
        normal = slopes.T @ slopes
        pull = slopes.T @ misfit
        if lens > 0:  # what is known of lenses holds the last parameter
            weight = (sigma / lens) ** 2
            normal[-1, -1] += weight
            pull[-1] += weight * vector[-1]
        step = _solved(normal, -pull)
        vector[:free] += step
        if noise_px is None:
            spare = max(1, misfit.size - free)
            sigma = max(sqrt(float(misfit @ misfit) / spare), least_noise_px / radius)
        if numpy.abs(step).max() < 1e-12:
            break
    misfit, slopes = _misfit(vector, places, seen, free)
    normal = slopes.T @ slopes
    if lens > 0:
        normal[-1, -1] += (sigma / lens) ** 2
    covariance = numpy.zeros((_PARAMETERS, _PARAMETERS))
    covariance[:free, :free] = _solved(normal, numpy.eye(free)) * sigma**2
    rms = sqrt(float(misfit @ misfit) / misfit.size) * radius
    freedom = 10**6 if noise_px is not None else max(1, misfit.size - free)
    return Plane(_matrix(vector), float(vector[8]), middle, radius, covariance, sigma * radius, freedom, rms)


# --- the inside ---------------------------------------------------------------------------------------


def _numpy() -> Any:
    import numpy

    return numpy


def _vector(plane: Plane) -> Array:
    numpy = _numpy()
    return numpy.append(numpy.asarray(plane.matrix).ravel()[:8], plane.lens)


def _matrix(vector: Array) -> Array:
    numpy = _numpy()
    return numpy.append(vector[:8], 1.0).reshape(3, 3)


def _projected(matrix: Array, places: Array) -> Array:
    numpy = _numpy()
    along = numpy.column_stack([places, numpy.ones(len(places))]) @ numpy.asarray(matrix).T
    return along[:, :2] / along[:, 2:]


def _straightened(seen: Array, lens: float) -> Array:
    return seen * (1 + lens * (seen**2).sum(axis=1))[:, None]


def _mapped(vector: Array, scaled: Array) -> Array:
    numpy = _numpy()
    inverse = numpy.linalg.inv(_matrix(vector))
    straight = _straightened(scaled, float(vector[8]))
    along = numpy.column_stack([straight, numpy.ones(len(straight))]) @ inverse.T
    if not (along[:, 2] > 0).all():  # the corner of the card has 1 by the scale of the matrix
        raise InputError(
            "a point lies beyond the horizon of the card's plane: mark the indication, not what is behind it"
        )
    return along[:, :2] / along[:, 2:]


def _first_guess(places: Array, seen: Array) -> Array:
    """The eight numbers of the homography, by the direct linear transformation in scaled places."""
    numpy = _numpy()
    shift, size = places.mean(axis=0), float(numpy.abs(places - places.mean(axis=0)).max()) or 1.0
    rows = []
    for (x, y), (u, v) in zip((places - shift) / size, seen, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, -u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, -v])
    _, values, vectors = numpy.linalg.svd(numpy.asarray(rows), full_matrices=True)
    if values[7] < 1e-9 * values[0]:
        raise InputError("the marks of the card lie on one line: at least four corners must be seen")
    scaled = vectors[-1].reshape(3, 3)
    matrix = scaled @ numpy.array([[1 / size, 0, -shift[0] / size], [0, 1 / size, -shift[1] / size], [0, 0, 1]])
    if abs(matrix[2, 2]) < 1e-12 * numpy.abs(matrix).max():
        raise InputError("the card cannot be seen like that by a camera: take the photograph from straight above")
    return (matrix / matrix[2, 2]).ravel()[:8]


def _misfit(vector: Array, places: Array, seen: Array, free: int) -> tuple[Array, Array]:
    """Straightened places less projected ones, and how that changes with each parameter."""
    numpy = _numpy()
    x, y = places[:, 0], places[:, 1]
    along = numpy.column_stack([x, y, numpy.ones(len(x))]) @ _matrix(vector).T
    below = along[:, 2]
    u, v = along[:, 0] / below, along[:, 1] / below
    straight = _straightened(seen, float(vector[8]))
    misfit = numpy.column_stack([straight[:, 0] - u, straight[:, 1] - v]).ravel()
    slopes = numpy.zeros((len(misfit), _PARAMETERS))
    for number, column in enumerate((x, y, numpy.ones(len(x)))):
        slopes[0::2, number] = -column / below
        slopes[1::2, 3 + number] = -column / below
    for number, column in enumerate((x, y)):
        slopes[0::2, 6 + number] = u * column / below
        slopes[1::2, 6 + number] = v * column / below
    slopes[:, 8] = (seen * (seen**2).sum(axis=1)[:, None]).ravel()
    return misfit, slopes[:, :free]


def _solved(normal: Array, right: Array) -> Array:
    """A symmetric system in scaled unknowns, since their sizes differ by powers of ten."""
    numpy = _numpy()
    scale = 1 / numpy.sqrt(numpy.diag(normal))
    solved = numpy.linalg.solve(normal * scale[:, None] * scale[None, :], (right.T * scale).T)
    return (solved.T * scale).T
