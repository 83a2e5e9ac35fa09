"""How the ions share the salt: solution-diffusion-electromigration through the membrane.

    j_i = −P_i (dc_i/dx + z_i c_i dψ/dx),   Σ z_i c_i = 0,   j_i = J c_p,i      x from 0 (wall) to 1 (product)

(Yaroshchuk, Bruening & Licon Bernal, J. Membr. Sci. 447, 2013, 463.) Ions of one charge see the same field, so it
follows from at most four sums, one for each charge: C_z' = −Φ_z − z C_z ψ' with Φ_z = Σ j_i/P_i, and
ψ' = −Σ z Φ_z / Σ z² C_z. Marched from the product side, where each step only makes the water saltier, this is stable;
each ion is then closed, c_p = c_w e^(z ψ0) / (1 + (J/P) E_z), and a few rounds settle the product. The result is
electrically neutral exactly and agrees with an independent integration (see the published checks).

Transmission depends only on J/P and on the ratios of the ions, so that one table against J serves one analysis at all
temperatures and places.
"""

from __future__ import annotations

import numpy as np

from rinsewright.quantities import Array

CHARGES = np.array([2.0, 1.0, -1.0, -2.0])


def transmission(
    number: Array, permeance_ratio: Array, charge: Array, wall: Array, steps: int = 16, rounds: int = 12
) -> Array:
    """Product over wall concentration of every solute.

    Parameters
        number: J/B, water flux over the NaCl permeance, shape (n,), > 0
        permeance_ratio: P_i/B, shape (solutes,)
        charge: z_i in −2…2, shape (solutes,); 0 for uncharged solutes
        wall: concentrations at the membrane, shape (n, solutes) or (solutes,); any unit, neutral
    Returns shape (n, solutes); may pass 1 for a very mobile trace ion (negative rejection). Solutes that are absent get
    the value a trace of them would have.
    """
    q = number[:, None] / permeance_ratio  # J/P_i
    c_w = np.broadcast_to(wall, q.shape)
    passed = 1.0 / (1.0 + q)
    ions = charge != 0.0
    if np.any(c_w[:, ions] > 0.0):
        passed[:, ions] = _of_ions(q[:, ions], charge[ions], c_w[:, ions], steps, rounds)
    return passed


def _of_ions(q: Array, z: Array, c_w: Array, steps: int, rounds: int) -> Array:
    member = (z[:, None] == CHARGES).astype(np.float64)  # (ions, 4)
    group = np.argmax(member, axis=1)
    total = (np.abs(z) * c_w).sum(axis=1)
    t = 1.0 / (1.0 + q)
    for _ in range(rounds):
        t = _neutral(t * c_w, z) * t
        c_p = t * c_w
        charges, fluxes = c_p @ member, (q * c_p) @ member  # C_z at the product side, Φ_z
        share = np.clip((np.abs(z) * c_p).sum(axis=1) / total, 1e-6, 0.999)
        conc, psi = _field(charges, fluxes, share, steps)
        lift = np.exp(psi[:, None] * CHARGES)
        resist = np.divide(conc * lift - charges, fluxes, out=np.ones_like(fluxes), where=fluxes > 0.0)
        # E_z of an absent charge: as long as the way is, which only a trace of it would notice
        new = lift[:, group] / (1.0 + q * resist[:, group])
        change = np.max(np.abs(new - t) / new)
        t = new
        if change < 1e-7:
            break
    return t * _neutral(t * c_w, z)


def _neutral(c: Array, z: Array) -> Array:
    """Factors e^(−zδ) that make a composition neutral (three Newton steps on the potential δ)."""
    delta = np.zeros(c.shape[0])
    for _ in range(3):
        shifted = c * np.exp(-z * delta[:, None])
        delta = delta + np.clip((shifted @ z) / (shifted @ (z * z)), -1.0, 1.0)
    return np.exp(-z * delta[:, None])


def _field(charges: Array, fluxes: Array, share: Array, steps: int) -> tuple[Array, Array]:
    """March C_z and ψ from the product side to the wall; steps are even in the logarithm of the concentration."""
    drive = (fluxes @ CHARGES)[:, None]
    squares = CHARGES * CHARGES
    theta = np.log(share)[:, None]
    h = -theta / steps
    scale = 1.0 / (1.0 - share)[:, None]

    def rates(theta: Array, conc: Array) -> tuple[Array, Array]:
        way = np.exp(theta) * scale  # −dx/dθ
        slope = drive / (conc @ squares)[:, None]  # −dψ/dx
        return way * (fluxes - CHARGES * conc * slope), way * slope

    conc, psi = charges, np.zeros_like(theta)
    for _ in range(steps):
        a, p = rates(theta, conc)
        b, r = rates(theta + h / 2, conc + h / 2 * a)
        c, s = rates(theta + h / 2, conc + h / 2 * b)
        d, u = rates(theta + h, conc + h * c)
        conc = conc + h / 6 * (a + 2 * (b + c) + d)
        psi = psi + h / 6 * (p + 2 * (r + s) + u)
        theta = theta + h
    return conc, psi[:, 0]
