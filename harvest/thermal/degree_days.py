"""Degree days from daily minimum and maximum temperature.

Every method sees the day as a curve between minimum and maximum with mean `m` and half range
`a`, and needs one quantity, the area of the curve above a threshold `b`:

    S(b) = max(m - b, 0) + a k(t),     t = min(|m - b| / a, 1)

where k is what the day's swing adds to the mean:

    constant at the mean   k(t) = 0
    sine                   k(t) = [sqrt(1 - t^2) - t arccos t] / pi
    triangle               k(t) = (1 - t)^2 / 4

For the sine this is Baskerville & Emin 1969, written so that it cannot be negative. An upper
threshold U above the base L then gives

    horizontal     S(L) - S(U)                   constant rate above U
    vertical       S(L) - S(U) - (U - L) f(U)    no development above U; f = share of day above U
    intermediate   max(0, S(L) - 2 S(U))         the rate falls 1:1 above U

Sources: Baskerville & Emin 1969, Ecology 50:514-517 (single sine); Allen 1976, Environ. Entomol.
5:388-396 (double sine); Sevacherian, Stern & Mueller 1977, J. Econ. Entomol. 70:399-402
(triangle); McMaster & Wilhelm 1997, Agric. For. Meteorol. 87:291-300 (the two averages); Zalom,
Goodell, Wilson, Barnett & Bentley 1983, UC Leaflet 21373 (the three cut-offs). The compact form
is derived and checked by quadrature in the tests.
"""

from __future__ import annotations

import math
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from harvest.errors import QuantityError
from harvest.thermal._checks import FloatArray, as_float, broadcast_leading, daily_pair
from harvest.thermal._chunks import Kernel, in_chunks

Method = Literal[
    "average",
    "average with limits",
    "single sine",
    "double sine",
    "single triangle",
    "double triangle",
]
Cutoff = Literal["horizontal", "vertical", "intermediate"]

_Curve = Literal["flat", "sine", "triangle"]


def degree_days(
    tmin: npt.ArrayLike,
    tmax: npt.ArrayLike,
    *,
    base: npt.ArrayLike,
    upper: npt.ArrayLike | None = None,
    method: Method = "single sine",
    cutoff: Cutoff = "horizontal",
) -> FloatArray:
    """Return degree days per day [degC d].

    Parameters
    ----------
    tmin, tmax : daily minimum and maximum [degC], shape (..., days); nan where missing.
    base, upper : lower and upper threshold [degC], `upper=None` for none. A number, or an array
        that broadcasts against the axes before time: `base` of shape (k,) with one series of n
        days gives (k, n); with series of shape (sites, n), a base per site has shape (sites,)
        and k bases for every site have shape (k, 1).
    method : "average" takes max(0, mean - base) (method 1 of McMaster & Wilhelm 1997); "average
        with limits" first clips tmin and tmax to base..upper (their method 2); the others follow
        a sine or triangle. The double forms use the next day's minimum for the second half of
        the day; the last day of a series uses its own.
    cutoff : what happens above `upper`; without meaning when there is none. "average with
        limits" knows the horizontal one only.

    Returns
    -------
    Shape (..., days), never negative. float32 in, float32 out; else float64. A day with a
    missing value gives nan; in the double forms the next day's missing minimum does so too.
    Beyond the result at most a few chunks of memory are used.

    Raises
    ------
    QuantityError
        Wrong shapes, temperatures outside -90..65 degC, tmin above tmax, upper not above base,
        an unknown method or cutoff.

    References
    ----------
    See the module. A threshold or sum is valid only with the method it was found with.
    """
    _require_known(method, cutoff)
    low, high = daily_pair(tmin, tmax)
    floor, ceiling = _thresholds(base, upper, low.dtype)
    leading = broadcast_leading(
        {"tmin": low.shape[:-1], "tmax": high.shape[:-1], "base": floor.shape}
        | ({} if ceiling is None else {"upper": ceiling.shape})
    )
    out = np.empty((*leading, low.shape[-1]), dtype=low.dtype)
    limits = [floor[..., None]] if ceiling is None else [floor[..., None], ceiling[..., None]]
    if method == "average with limits":
        in_chunks(_clipped_average, [low, high, *limits], out, scratch=1)
        return out
    curve: _Curve = "flat"
    if method != "average":
        curve = "sine" if method.endswith("sine") else "triangle"
    kernel = _curve_kernel(curve, cutoff)
    if method.startswith("double"):
        last = slice(-1, None)
        double = _double_kernel(kernel)
        halves = [low[..., :-1], low[..., 1:], high[..., :-1], *limits]
        in_chunks(double, halves, out[..., :-1], scratch=6)
        in_chunks(kernel, [low[..., last], high[..., last], *limits], out[..., last], scratch=5)
    else:
        in_chunks(kernel, [low, high, *limits], out, scratch=5)
    return out


def _require_known(method: str, cutoff: str) -> None:
    for name, given, known in (
        ("method", method, get_args(Method)),
        ("cutoff", cutoff, get_args(Cutoff)),
    ):
        if given not in known:
            choices = ", ".join(f'"{choice}"' for choice in known)
            raise QuantityError(f"one of {choices} is needed", given=repr(given), where=name)
    if method == "average with limits" and cutoff != "horizontal":
        raise QuantityError(
            'the method "average with limits" clips at the upper threshold, '
            'so only the cutoff "horizontal" fits it',
            given=repr(cutoff),
            where="cutoff",
        )


def _thresholds(
    base: npt.ArrayLike, upper: npt.ArrayLike | None, dtype: np.dtype[np.floating]
) -> tuple[FloatArray, FloatArray | None]:
    floor = _finite(base, "base")
    if upper is None:
        return floor.astype(dtype), None
    ceiling = _finite(upper, "upper")
    broadcast_leading({"base": floor.shape, "upper": ceiling.shape})
    if not (ceiling > floor).all():
        raise QuantityError(
            "the upper threshold must lie above the base",
            given=f"base {floor.tolist()}, upper {ceiling.tolist()} degC",
            where="upper",
            todo="Leave upper out when there is no upper threshold.",
        )
    return floor.astype(dtype), ceiling.astype(dtype)


def _finite(threshold: npt.ArrayLike, name: str) -> FloatArray:
    array = as_float(threshold, name)
    if not np.isfinite(array).all():
        raise QuantityError("a finite threshold is needed", given=str(array.tolist()), where=name)
    return array


def _clipped_average(inputs: list[FloatArray], out: FloatArray, scratch: FloatArray) -> None:
    low, high, base = inputs[:3]
    np.maximum(low, base, out=out)
    np.maximum(high, base, out=scratch[0])
    if len(inputs) == 4:
        np.minimum(out, inputs[3], out=out)
        np.minimum(scratch[0], inputs[3], out=scratch[0])
    out += scratch[0]
    out *= 0.5
    out -= base


def _double_kernel(single: Kernel) -> Kernel:
    """Return half the day's curve from this minimum and half down to the next one."""

    def kernel(inputs: list[FloatArray], out: FloatArray, scratch: FloatArray) -> None:
        low, following, high, *limits = inputs
        single([low, high, *limits], out, scratch[:5])
        single([following, high, *limits], scratch[5], scratch[:5])
        out += scratch[5]
        out *= 0.5

    return kernel


def _curve_kernel(curve: _Curve, cutoff: Cutoff) -> Kernel:
    def kernel(inputs: list[FloatArray], out: FloatArray, scratch: FloatArray) -> None:
        low, high, base = inputs[:3]
        mean, half, over, first, second = scratch
        np.add(low, high, out=mean)
        mean *= 0.5
        np.subtract(high, low, out=half)
        half *= 0.5
        np.abs(half, out=half)  # the next day's minimum may lie above this day's maximum
        _area_above(base, mean, half, curve, out, (first, second))
        if len(inputs) == 3:
            return
        upper = inputs[3]
        _area_above(upper, mean, half, curve, over, (first, second))
        if cutoff == "intermediate":
            over *= 2.0
        out -= over
        if cutoff == "vertical":
            _share_above(upper, mean, half, curve, first)
            np.subtract(upper, base, out=second)
            first *= second
            out -= first
        np.maximum(out, 0.0, out=out)

    return kernel


def _area_above(
    threshold: FloatArray,
    mean: FloatArray,
    half: FloatArray,
    curve: _Curve,
    out: FloatArray,
    scratch: tuple[FloatArray, FloatArray],
) -> None:
    """Write S(threshold) into `out`."""
    np.subtract(mean, threshold, out=out)
    if curve != "flat":
        swing, spare = scratch
        np.abs(out, out=swing)
        np.minimum(swing, half, out=swing)
        np.maximum(half, np.finfo(out.dtype).tiny, out=spare)
        swing /= spare
        _swing_of_sine(swing, spare) if curve == "sine" else _swing_of_triangle(swing)
        swing *= half
    np.maximum(out, 0.0, out=out)
    if curve != "flat":
        out += swing


def _swing_of_sine(t: FloatArray, spare: FloatArray) -> None:
    """Replace t by [sqrt(1 - t^2) - t arccos t] / pi."""
    np.arccos(t, out=spare)
    spare *= t
    t *= t
    np.subtract(1.0, t, out=t)
    np.sqrt(t, out=t)
    t -= spare
    t *= 1.0 / math.pi
    np.maximum(t, 0.0, out=t)


def _swing_of_triangle(t: FloatArray) -> None:
    """Replace t by (1 - t)^2 / 4."""
    np.subtract(1.0, t, out=t)
    t *= t
    t *= 0.25


def _share_above(
    threshold: FloatArray, mean: FloatArray, half: FloatArray, curve: _Curve, out: FloatArray
) -> None:
    """Write the share of the day above the threshold, 0..1, into `out`."""
    np.subtract(threshold, mean, out=out)
    if curve == "flat":
        np.less(out, 0.0, out=out)
        return
    constant = half == 0.0
    above = constant & (out < 0.0)
    np.clip(out, -half, half, out=out)  # before dividing: the smallest swings would overflow
    np.divide(out, half, out=out, where=~constant)
    if curve == "sine":
        np.arccos(out, out=out)
        out *= 1.0 / math.pi
    else:
        np.subtract(1.0, out, out=out)
        out *= 0.5
    out[constant] = above[constant]
