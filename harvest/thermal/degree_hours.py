"""Growing degree hours: heat from hourly temperature."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final, Literal, get_args

import numpy as np
import numpy.typing as npt

from harvest.errors import QuantityError
from harvest.thermal._checks import COLDEST_C, WARMEST_C, FloatArray, temperature_series, within
from harvest.thermal._chunks import Kernel, in_chunks

HeatCurve = Literal["linear", "asymmetric"]

LINEAR_BASE_C: Final = 4.5
LINEAR_OPTIMUM_C: Final = 25.0
"""Richardson, Seeley, Walker, Hatch & Ashcroft 1975, HortScience 10:559-560 (from memory)."""

ASYMMETRIC_BASE_C: Final = 4.0
ASYMMETRIC_OPTIMUM_C: Final = 25.0
ASYMMETRIC_CRITICAL_C: Final = 36.0
"""Anderson, Richardson & Kesner 1986, Acta Hortic. 184:71-78."""

PEACH_FRUIT_C: Final = {"base": 7.5, "optimum": 26.0, "critical": 38.5}
"""Cardinal temperatures of the asymmetric curve for the growth of peach fruit [degC] (Marra et al.
2002, Acta Hortic. 592): `growing_degree_hours(t, curve="asymmetric", **PEACH_FRUIT_C)`."""


def growing_degree_hours(
    temperature: npt.ArrayLike,
    *,
    curve: HeatCurve = "linear",
    base: float | None = None,
    optimum: float | None = None,
    critical: float | None = None,
    stress: float = 1.0,
) -> FloatArray:
    """Return growing degree hours for every hour [degC h].

    With base Tb, optimum Tu, critical Tc and A = Tu - Tb:

        linear        min(max(T, Tb), Tu) - Tb
        asymmetric    A/2 [1 + cos(pi + pi (T - Tb)/(Tu - Tb))]             Tb < T <= Tu
                      A   [1 + cos(pi/2 + pi/2 (T - Tu)/(Tc - Tu))]         Tu < T <  Tc
                      0                                                     elsewhere

    Sums of the two curves are different units: never exchange them.

    Parameters
    ----------
    temperature : hourly [degC], shape (..., hours); nan where missing.
    curve : "linear" (Tb 4.5, Tu 25) or "asymmetric" (Tb 4, Tu 25, Tc 36).
    base, optimum, critical : other cardinal temperatures [degC]; see `PEACH_FRUIT_C`.
        `critical` belongs to the asymmetric curve.
    stress : factor 0..1 on the result for plants under stress; 1 without.

    Returns
    -------
    The shape of `temperature`, never negative; nan where it is missing. float32 stays float32.

    Raises
    ------
    QuantityError
        Temperatures outside -90..65 degC, cardinal temperatures out of order, an unknown curve.

    References
    ----------
    Linear: Richardson et al. 1975, HortScience 10:559-560 (from memory). Asymmetric: Anderson,
    Richardson & Kesner 1986, Acta Hortic. 184:71-78 (formula from memory).
    """
    if curve not in get_args(HeatCurve):
        raise QuantityError(
            'one of "linear", "asymmetric" is needed', given=repr(curve), where="curve"
        )
    hours = temperature_series(temperature, "temperature")
    factor = float(within(stress, "stress", 0, 1, "(a share)"))
    heat = np.empty_like(hours)
    if curve == "linear":
        if critical is not None:
            raise QuantityError(
                "the linear curve has no critical temperature",
                given=f"{critical:g}",
                where="critical",
                todo='Use curve="asymmetric".',
            )
        tb = LINEAR_BASE_C if base is None else base
        tu = LINEAR_OPTIMUM_C if optimum is None else optimum
        _require_rising({"base": tb, "optimum": tu})
        in_chunks(_linear(tb, tu, factor), [hours], heat)
        return heat
    tb = ASYMMETRIC_BASE_C if base is None else base
    tu = ASYMMETRIC_OPTIMUM_C if optimum is None else optimum
    tc = ASYMMETRIC_CRITICAL_C if critical is None else critical
    _require_rising({"base": tb, "optimum": tu, "critical": tc})
    in_chunks(_asymmetric(tb, tu, tc, factor), [hours], heat, scratch=1)
    return heat


def _linear(base: float, optimum: float, factor: float) -> Kernel:
    def kernel(inputs: list[FloatArray], heat: FloatArray, _: FloatArray) -> None:
        np.clip(inputs[0], base, optimum, out=heat)
        heat -= base
        heat *= factor

    return kernel


def _asymmetric(base: float, optimum: float, critical: float, factor: float) -> Kernel:
    """Return the curve of Anderson et al. 1986 as a rise times a fall.

    1 + cos(pi + x) is written as 2 sin^2(x/2) and 1 + cos(pi/2 + x) as 2 sin^2(pi/4 - x/2), so
    that neither end can fall below zero.
    """

    def kernel(inputs: list[FloatArray], heat: FloatArray, scratch: FloatArray) -> None:
        np.clip(inputs[0], base, optimum, out=heat)
        heat -= base
        heat *= 0.5 * math.pi / (optimum - base)
        np.sin(heat, out=heat)
        heat *= heat
        heat *= factor * (optimum - base)
        fall = scratch[0]  # 1 at the optimum and below, 0 at the critical temperature
        np.clip(inputs[0], optimum, critical, out=fall)
        np.subtract(critical, fall, out=fall)
        fall *= 0.25 * math.pi / (critical - optimum)
        np.sin(fall, out=fall)
        fall *= fall
        fall *= 2.0
        heat *= fall

    return kernel


def _require_rising(cardinal: dict[str, float]) -> None:
    for name, value in cardinal.items():
        within(value, name, COLDEST_C, WARMEST_C, "degC")
    names, values = list(cardinal), list(cardinal.values())
    if any(second <= first for first, second in pairwise(values)):
        raise QuantityError(
            f"{' < '.join(names)} is needed",
            given=", ".join(f"{name} {value:g}" for name, value in cardinal.items()),
            where="cardinal temperatures",
        )
