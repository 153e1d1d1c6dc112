"""How the table lay before the camera: from right angles and known lengths on it.

A camera without a bent lens sees a flat table as a pinhole does (Hartley and Zisserman 2004, 6.1):
a ray through the picture meets the plane at a depth that the plane's slopes give, and the corners
in space then have lengths and angles that can be held against what is known of them. Unknown are
two slopes, the focal length (near that of a phone's main lens), and the scale. Pixels that are not
square, or a picture that no camera took as it is, are two more unknowns expected to be almost
nothing. All are found together by Gauss-Newton steps with Cauchy weights (Holland and Welsch 1977),
so that scraps cut askew do not pull. Spreads and limits are by hand, never fitted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequencer.photo.shapes.shape import Floats

DIAGONAL_35MM = float(np.hypot(36, 24))
"""Of a frame of 35 mm film, in millimetres."""
EQUIVALENT = 26.0
"""Focal length of a phone's main camera, in millimetres for 35 mm film; range from memory."""
_FOCAL, _FOCAL_KNOWN = 0.15, 0.04
"""Spread of the focal length's natural logarithm, unknown and stated by the file."""
_SLOPE = 0.25  # spread of the table's slopes: tangent of the tilt
_SQUARE = 0.003  # spread of stretch and shear: shares
_CAUCHY = 2.0  # standard deviations at which a residual's weight is halved
_STEEPEST = 1.2  # slope, either way
_ANY_SCALE = 50.0  # spread of the scale's natural logarithm: as good as unknown
_DAMPED, _MORE, _LESS, _MOST_DAMPED = 1e-3, 8.0, 0.2, 1e4
"""Damping at first, times as much after a step that made it worse and after one that did not, and
where the search gives up (Levenberg 1944)."""
_SETTLED = 1e-4  # gain in cost that ends the search
_ENDS = 1.41  # a side's direction hangs on two ends, each so blurred: the root of 2
_NEAREST = 0.05  # depth over that of the picture's middle, so that nothing is behind the camera
_UNKNOWNS = 6  # slopes (2), focal length, out of square (2), scale
_ANGLES = 6  # residuals of a thing's angles: four corners and two pairs of sides
_MEASURED = 6  # lengths of a thing of known size: four sides and two diagonals
_ROUNDS = 14  # Gauss-Newton steps at most
_STEP = 1e-6  # of each unknown, for the residuals' slopes
_STEPS = np.vstack([np.zeros(_UNKNOWNS), _STEP * np.eye(_UNKNOWNS)])
"""No step, then one of each unknown (7, 6)."""
_NEXT, _LAST = np.array([1, 2, 3, 0]), np.array([3, 0, 1, 2])
"""Of a thing's four corners, the one after each and the one before it."""


@dataclass(frozen=True, eq=False)
class Seen:
    """A thing with four straight sides: ``corners`` (4, 2) in analysis pixels, in order.

    ``askew``: standard deviation of its angles from right ones, radians. ``blur``: of its corners,
    pixels. ``sides``: lengths of its first and second side in inches, where they are known, to a
    share ``slack``; then they are believed whatever the rest says when ``sure``.
    """

    corners: Floats
    askew: float
    blur: float = 0.5
    sides: tuple[float, float] | None = None
    slack: float = 0.001
    sure: bool = False


@dataclass(frozen=True, eq=False)
class Pose:
    """The table as the camera had it.

    ``unknowns``: slopes (2), log of the focal length over the expected one, out of square (2), log
    of the scale. ``spread`` (6, 6): their covariance. ``cost``: half the sum of squares. ``focal``:
    expected focal length in pixels. ``centre``: of the picture.
    """

    unknowns: Floats
    spread: Floats
    cost: float
    focal: float
    centre: Floats

    @property
    def to_plane(self) -> Floats:
        """(3, 3): analysis pixels → lengths on the table, in inches if the scale is known."""
        a, b, longer, stretch, shear, scale = self.unknowns
        normal = np.array([a, b, 1.0])
        across = np.cross([0.0, 1.0, 0.0], normal)
        across /= np.linalg.norm(across)
        down = np.cross(normal, across) / np.linalg.norm(normal)
        square = np.array([[1 + stretch, shear, 0], [shear, 1 - stretch, 0], [0, 0, 1]])
        reach = self.focal * np.exp(longer)
        x, y = self.centre
        local = np.array([[1, 0, -x], [0, 1, -y], [0, 0, reach]]) / reach
        rays = square @ local
        return np.asarray(np.vstack([across * np.exp(scale), down * np.exp(scale), normal]) @ rays)

    def scaled(self, by: float) -> Pose:
        """The same with lengths ``by`` times as long."""
        return replace(self, unknowns=self.unknowns + np.array([0, 0, 0, 0, 0, np.log(by)]))


def focal_pixels(shape: tuple[int, ...], equivalent: float | None) -> float:
    """Focal length in pixels of a picture of ``shape`` (h, w), from millimetres for 35 mm film.

    By the diagonal (CIPA DCG-001-2018); None: a phone's.
    """
    return (equivalent or EQUIVALENT) / DIAGONAL_35MM * float(np.hypot(shape[0], shape[1]))


def table_pose(
    things: Sequence[Seen], shape: tuple[int, ...], equivalent: float | None = None
) -> Pose:
    """The pose that fits the things best, in a picture of ``shape`` (h, w).

    ``equivalent``: focal length for 35 mm film, if the file states it. Without things the table is
    taken to lie square to the camera, with a wide spread.
    """
    focal = focal_pixels(shape, equivalent)
    centre = np.array([shape[1], shape[0]]) / 2
    expected = np.array(
        [_SLOPE, _SLOPE, _FOCAL_KNOWN if equivalent else _FOCAL, _SQUARE, _SQUARE, _ANY_SCALE]
    )
    problem = _Problem(things, focal, centre)
    unknowns = problem.start()
    damping = _DAMPED
    rest, slope, weights = problem.weighed(unknowns, expected)
    cost = _cost(rest, weights, problem.firm)
    square = np.eye(_UNKNOWNS)
    for _ in range(_ROUNDS):
        weighted = (slope * weights[:, None]).T
        square, pull = weighted @ slope, weighted @ rest
        step = np.linalg.solve(square + damping * np.diag(np.diag(square)), -pull)
        tried = unknowns + step
        tried[:2] = np.clip(tried[:2], -_STEEPEST, _STEEPEST)
        new_rest, new_slope, new_weights = problem.weighed(tried, expected)
        new_cost = _cost(new_rest, new_weights, problem.firm)
        if not new_cost < cost:
            damping *= _MORE
            if damping > _MOST_DAMPED:
                break
            continue
        done = cost - new_cost < _SETTLED
        unknowns, rest, slope, weights, cost = tried, new_rest, new_slope, new_weights, new_cost
        damping *= _LESS
        if done:
            break
    return Pose(unknowns, np.linalg.inv(square), cost, focal, centre)


def _cost(rest: Floats, weights: Floats, firm: Floats) -> float:
    """Half the sum of squares, of what is only weighed the Cauchy loss."""
    loose = _CAUCHY**2 * np.log1p((rest / _CAUCHY) ** 2)
    return float(np.where(firm, rest**2, loose).sum()) / 2


class _Problem:
    """Residuals of the things at given unknowns, every row over its standard deviation."""

    def __init__(self, things: Sequence[Seen], focal: float, centre: Floats) -> None:
        corners = np.array([one.corners for one in things]).reshape(-1, 4, 2)
        self.local = np.moveaxis((corners - centre) / focal, -1, 0)
        length = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=-1)
        askew = np.array([[one.askew] for one in things]).reshape(-1, 1)
        blur = np.array([[one.blur] for one in things]).reshape(-1, 1)
        tilt = _ENDS * blur / length  # how far a side's direction is off
        self.angle = np.sqrt(askew**2 + tilt**2 + np.roll(tilt, 1, axis=1) ** 2)
        self.apart = np.sqrt(askew**2 + tilt[:, :2] ** 2 + tilt[:, 2:] ** 2)
        self.known = [k for k, one in enumerate(things) if one.sides is not None]
        sides = np.array([things[k].sides for k in self.known]).reshape(-1, 2)
        self.sides = np.column_stack([sides, sides, np.hypot(*sides.T), np.hypot(*sides.T)])
        slack = np.array([[things[k].slack] for k in self.known]).reshape(-1, 1)
        across = np.hypot(length[:, 0], length[:, 1])
        pixels = np.column_stack([length, across, across])[self.known]
        self.slack = np.sqrt(slack**2 + (_ENDS * blur[self.known] / pixels) ** 2)
        sure = np.array([things[k].sure for k in self.known], bool)
        self.firm = np.concatenate([
            np.zeros(_ANGLES * len(things), bool), np.repeat(sure, _MEASURED),
            [True, True, True, False, False, True],
        ])  # fmt: skip

    def start(self) -> Floats:
        """Square to the camera, at the scale of what is known."""
        unknowns = np.zeros(_UNKNOWNS)
        if self.known:
            first = self.local[:, self.known[0]]
            seen = np.linalg.norm(first - first[:, _NEXT], axis=0)
            unknowns[5] = np.log(self.sides[0, :4].sum() / seen.sum())
        return unknowns

    def weighed(self, unknowns: Floats, expected: Floats) -> tuple[Floats, Floats, Floats]:
        """Residuals (r,), their slopes (r, 6) by small steps, and weights (r,)."""
        near = self.rest(unknowns + _STEPS, expected)
        rest = near[0]
        weights = np.where(self.firm, 1.0, 1 / (1 + (rest / _CAUCHY) ** 2))
        return rest, (near[1:] - rest).T / _STEP, weights

    def rest(self, unknowns: Floats, expected: Floats) -> Floats:
        """Of several sets of unknowns (n, 6): (n, r)."""
        a, b, longer, stretch, shear, scale = unknowns.T[..., None, None]
        u, v = self.local
        near = np.exp(-longer)
        x = (u * (1 + stretch) + v * shear) * near
        y = (u * shear + v * (1 - stretch)) * near
        deep = np.exp(scale) / np.maximum(1 + x * a + y * b, _NEAREST)
        space = np.stack([x * deep, y * deep, deep])
        side = space.take(_NEXT, axis=-1) - space
        length = np.sqrt((side * side).sum(axis=0))
        way = side / length
        corner = (way * way.take(_LAST, axis=-1)).sum(axis=0) / self.angle
        apart = self._turn(way[..., :2], way[..., 2:], a, b) / self.apart
        rows = [np.concatenate([corner, apart], axis=-1)]
        if self.known:
            across = space[:, :, self.known]
            across = across[..., :2] - across[..., 2:]
            diagonal = np.sqrt((across * across).sum(axis=0))
            lengths = np.concatenate([length[:, self.known], diagonal], axis=-1)
            rows.append(np.log(lengths / self.sides) / self.slack)
        flat = [one.reshape(len(unknowns), -1) for one in rows]
        return np.concatenate([*flat, unknowns / expected], axis=-1)

    @staticmethod
    def _turn(one: Floats, other: Floats, a: Floats, b: Floats) -> Floats:
        """Sine of the angle between directions in the plane: their cross product on its normal."""
        (p, q, r), (s, t, u) = one, other
        size = (r * t - q * u) * a + (p * u - r * s) * b + (q * s - p * t)
        return np.asarray(size / np.sqrt(1 + a * a + b * b))
