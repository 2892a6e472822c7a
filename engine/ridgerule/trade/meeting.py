"""Two planes meeting, in the squares that keep their angles exact.

With NA and NB the upward normals of the planes (see `geometry`), a meeting holds what the
corner makes of their level parts, and from these the dot product NA . NB and the square of the
length of NA x NB, along which the planes meet. All are rational for rational slopes and a corner
of 60, 90 or 120 deg, though slopes, lengths and cosines of the hip are not.
"""

from __future__ import annotations

from fractions import Fraction

from msgspec import Struct

from ridgerule.enclosures import (
    Amount,
    Span,
    absolute,
    add,
    arccosine,
    arctangent,
    compare,
    cosine,
    divide,
    high,
    low,
    multiply,
    negate,
    square_root,
    subtract,
)

_HALF = Fraction(1, 2)


class Meeting(Struct, frozen=True):
    """Two planes by slope, and the plan angle of the corner in which their eaves meet, 0 to 360.

    A corner of 0 is a ridge, whose planes face opposite ways; at 180 they face the same way.
    """

    slope_a: Amount
    slope_b: Amount
    corner: Amount

    @property
    def square_a(self) -> Amount:
        """Slope A squared."""
        return squared(self.slope_a)

    @property
    def square_b(self) -> Amount:
        """Slope B squared."""
        return squared(self.slope_b)

    @property
    def aligned(self) -> Amount:
        """Slope A x slope B x cosine of the corner."""
        return multiply(_product(self.slope_a, self.slope_b), cosine(self.corner))

    @property
    def crossed(self) -> Amount:
        """The square of slope A x slope B x sine of the corner: the rise of NA x NB, squared."""
        sine_square = multiply(_HALF, subtract(1, cosine(multiply(2, self.corner))))
        return multiply(multiply(self.square_a, self.square_b), sine_square)

    @property
    def spread(self) -> Amount:
        """The square of the level run of NA x NB."""
        return add(add(self.square_a, self.square_b), multiply(2, self.aligned))

    @property
    def cross_square(self) -> Amount:
        """The square of the length of NA x NB."""
        return add(self.spread, self.crossed)

    @property
    def dot(self) -> Amount:
        """The dot product NA . NB."""
        return subtract(1, self.aligned)

    def normals_cosine(self) -> Amount:
        """Return the cosine of the angle between the normals."""
        lengths = multiply(add(1, self.square_a), add(1, self.square_b))
        return divide(self.dot, square_root(lengths))

    def between_normals(self) -> Amount:
        """Return the angle between the normals, 0 to 180 degrees."""
        if self.corner not in {0, 180}:
            return bearing(self.dot, self.cross_square)
        angle_a, angle_b = arctangent(self.slope_a), arctangent(self.slope_b)
        opposite = self.corner == 0
        angle = add(angle_a, angle_b) if opposite else absolute(subtract(angle_a, angle_b))
        # 4:12 and 6:12 make exactly 45 deg, though neither angle is rational by itself.
        exactly = bearing(self.dot, self.cross_square) if isinstance(angle, Span) else angle
        return angle if isinstance(exactly, Span) else exactly

    # the hip between them, where both slopes and the corner are above 0, the corner below 180

    def plan_angles(self) -> tuple[Amount, Amount]:
        """Return the angles in plan from either eave to the hip, in degrees."""
        if compare(self.slope_a, self.slope_b) == 0:
            half = multiply(_HALF, self.corner)
            return half, half
        return (
            bearing(add(self.square_a, self.aligned), self.crossed),
            bearing(add(self.square_b, self.aligned), self.crossed),
        )

    def hip_slope(self) -> Amount:
        """Return the rise of the hip over its own level run."""
        return square_root(divide(self.crossed, self.spread))

    def hip_degrees(self) -> Amount:
        """Return the angle of the hip from level."""
        return bearing(1, divide(self.crossed, self.spread))

    def backings(self) -> tuple[Amount, Amount]:
        """Return the backing angle to either side, -90 to 90 degrees."""
        length = self.cross_square
        return (
            subtract(90, bearing(add(self.square_a, self.aligned), length)),
            subtract(90, bearing(add(self.square_b, self.aligned), length)),
        )

    def run_factor(self) -> Amount:
        """Return the level run of the hip per common run on side A."""
        return square_root(divide(multiply(self.square_a, self.spread), self.crossed))

    def length_factor(self) -> Amount:
        """Return the length of the hip per common run on side A."""
        return square_root(divide(multiply(self.square_a, self.cross_square), self.crossed))

    def length_per_run(self) -> Amount:
        """Return the length of the hip per its own level run."""
        return square_root(divide(self.cross_square, self.spread))


def squared(slope: Amount) -> Amount:
    """Return a slope squared; exact also for slopes of 30 and 60 deg, themselves irrational."""
    degrees = arctangent(slope)
    if isinstance(slope, Span) and not isinstance(degrees, Span):
        double = cosine(multiply(2, degrees))
        if not isinstance(double, Span):
            return divide(subtract(1, double), add(1, double))
    return multiply(slope, slope)


def _product(slope_a: Amount, slope_b: Amount) -> Amount:
    """Return slope A x slope B, exact also for 30 deg with 30 or 60 deg."""
    square_a, square_b = squared(slope_a), squared(slope_b)
    if isinstance(square_a, Span) or isinstance(square_b, Span):
        return multiply(slope_a, slope_b)
    return square_root(square_a * square_b)


def bearing(along: Amount, across_square: Amount) -> Amount:
    """Return the angle, 0 to 180 degrees, of a direction `along` and root of `across_square`.

    Exact wherever the angle is rational and both arguments are: the cosine of twice the angle
    is then rational, and Niven's theorem lists those angles; half the angle's arccosine is also
    what keeps 30 deg exact, whose own cosine is not. The two must not both be 0.
    """
    if isinstance(along, Span) or isinstance(across_square, Span):
        return _enclosed_bearing(along, square_root(across_square))
    if along == 0:
        return 90
    square = Fraction(across_square) / (along * along)
    root = square_root(square)
    if isinstance(root, Span):
        angle = multiply(_HALF, arccosine((1 - square) / (1 + square)))
    else:
        angle = arctangent(root)
    return angle if along > 0 else subtract(180, angle)


def _enclosed_bearing(along: Amount, across: Amount) -> Amount:
    # Divide by what is surely not 0, so that the enclosure stays narrow.
    least, most = low(along), high(along)
    if least is not None and least > 0:
        return arctangent(divide(across, along))
    if most is not None and most < 0:
        return subtract(180, arctangent(divide(across, negate(along))))
    return subtract(90, arctangent(divide(along, across)))
