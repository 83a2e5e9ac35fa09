"""Independent integration of ion transport through a membrane by solution, diffusion and electromigration.

    -P_i (dc_i/dx + z_i c_i dpsi/dx) = J c_p,i      sum z_i c_i = 0      c_i(0) = c_w,i      c_i(1) = c_p,i

`transmit` shoots from the product side with an adaptive integrator; `transmit_bvp` hands the same equations to a
collocation solver for boundary-value problems. Flux and permeances in any one unit of velocity, concentrations in any
one unit.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import solve_bvp, solve_ivp
from scipy.optimize import root

Array = NDArray[np.float64]


def _slopes(c: Array, product: Array, flux: float, charge: Array, permeance: Array) -> Array:
    """dc/dx, with the potential's gradient eliminated by neutrality; c is (ions,) or (ions, places)."""
    pull = flux * (product / permeance).reshape(-1, *[1] * (c.ndim - 1))
    z = charge.reshape(pull.shape)
    gradient = -(z * pull).sum(axis=0) / (z**2 * c).sum(axis=0)
    return np.asarray(-pull - z * c * gradient)


def transmit(wall: ArrayLike, charge: ArrayLike, permeance: ArrayLike, flux: float, rtol: float = 1e-11) -> Array:
    """Product concentrations by shooting; the wall's analysis must be neutral, every concentration above zero.

    Shot from the product side towards the feed: that way no concentration can turn negative and a wrong guess does not
    grow. Flux is raised in steps, each answer leading to the next.
    """
    c_wall, z, p = _neutral(wall, charge, permeance)
    log_passage = np.zeros_like(c_wall)
    for step in flux * np.geomspace(1e-2, 1.0, 9):

        def misses(guess: Array, step: float = step) -> Array:
            product = c_wall * np.exp(guess)
            solution = solve_ivp(
                lambda back, c: -_slopes(c, product, step, z, p),
                (0.0, 1.0),
                product,
                method="LSODA",
                rtol=rtol,
                atol=rtol * 1e-3 * product,
            )
            return np.asarray(np.log(solution.y[:, -1] / c_wall))

        found = root(misses, log_passage, tol=1e-12, options={"eps": 1e-7})
        log_passage = found.x
        if not max(abs(found.fun)) < 1e-8:
            raise ArithmeticError("shooting did not reach the feed side")
    return c_wall * np.exp(log_passage)


def transmit_bvp(wall: ArrayLike, charge: ArrayLike, permeance: ArrayLike, flux: float, tol: float = 1e-8) -> Array:
    """Product concentrations by collocation over the whole thickness at once."""
    c_wall, z, p = _neutral(wall, charge, permeance)
    x = np.linspace(0.0, 1.0, 41)
    profile = np.ones((len(c_wall), len(x)))
    log_passage = np.zeros(len(c_wall))
    for step in flux * np.geomspace(1e-2, 1.0, 12):

        def slopes(x: Array, y: Array, parameters: Array, step: float = step) -> Array:
            return _slopes(c_wall[:, None] * y, c_wall * np.exp(parameters), step, z, p) / c_wall[:, None]

        solution = solve_bvp(
            slopes,
            lambda left, right, parameters: np.concatenate([left - 1, right * np.exp(-parameters) - 1]),
            x,
            profile,
            p=log_passage,
            tol=tol,
            max_nodes=100_000,
        )
        if not solution.success:
            raise ArithmeticError(solution.message)
        x, profile, log_passage = solution.x, solution.y, solution.p
    return c_wall * np.exp(log_passage)


def _neutral(wall: ArrayLike, charge: ArrayLike, permeance: ArrayLike) -> tuple[Array, Array, Array]:
    c_wall, z, p = (np.asarray(values, dtype=float) for values in (wall, charge, permeance))
    if abs((z * c_wall).sum()) > 1e-9 * (abs(z) * c_wall).sum():
        raise ValueError("the water at the wall is not neutral")
    return c_wall, z, p
