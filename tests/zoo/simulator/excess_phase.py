"""Excess-phase equation phi0 = phiF + C sin(phiF + arctan alpha), with its memory.

Lang and Kobayashi 1980; a root is stable where 1 + C cos(phiF + arctan alpha) > 0.
With u = phiF + arctan alpha - 2 pi m, branch m reaches from u = -f to u = f,
f = arccos(-1/C) (pi for C <= 1), that is over phi0 + arctan alpha - 2 pi m from
-R to R, R = f + C sin f = arccos(-1/C) + sqrt(C^2 - 1). The light stays on its
branch as long as it reaches, then falls to the next: m follows
low <= m <= high with the least change, as a key follows a ring with play.
"""
import numpy as np

TURN = 2 * np.pi


def fold(c):
    """Half width of a branch in phiF, rad."""
    c = np.asarray(c, float)
    return np.where(c > 1, np.arccos(-1 / np.maximum(c, 1)), np.pi)


def reach(c):
    """Half width of a branch in phi0, rad."""
    c = np.asarray(c, float)
    return np.where(c > 1, fold(c) + np.sqrt(np.maximum(c * c - 1, 0)), np.pi)


def branches(phase, c, alpha):
    """The branch number of each sample (whole), in the order of time."""
    turns = (phase + np.arctan(alpha)) / TURN
    half = reach(c) / TURN
    low = np.ceil(turns - half - 1e-12)
    high = np.maximum(low, np.floor(turns + half + 1e-12))
    at = np.round(turns[0])
    change = np.flatnonzero((np.diff(low) != 0) | (np.diff(high) != 0)) + 1
    starts = np.concatenate(([0], change))
    kept = np.empty(starts.size)
    for i, (least, most) in enumerate(zip(low[starts], high[starts])):
        at = min(max(at, least), most)
        kept[i] = at
    return np.repeat(kept, np.diff(np.append(starts, phase.size)))


def invert(target, c):
    """u with u + c sin u = target on the branch around 0, vectorised.

    The bracket is halved, then Newton steps follow that never leave it.
    """
    c = np.broadcast_to(np.asarray(c, float), target.shape)
    edge = fold(c)
    if np.ptp(c) == 0:
        # One table for all: nodes crowd where the slope goes to zero.
        node = edge.flat[0] * np.sin(np.linspace(-np.pi / 2, np.pi / 2, 8193))
        u = np.interp(target, node + c.flat[0] * np.sin(node), node)
        low, high = -edge, edge
        steps = 3
    else:
        low, high = -edge.copy(), edge.copy()
        for _ in range(12):
            u = (low + high) / 2
            above = u + c * np.sin(u) > target
            high = np.where(above, u, high)
            low = np.where(above, low, u)
        u = (low + high) / 2
        steps = 4
    for _ in range(steps):
        slope = np.maximum(1 + c * np.cos(u), 1e-4)
        u = np.clip(u - (u + c * np.sin(u) - target) / slope, low, high)
    return u


def feedback_phase(phase, c, alpha):
    """phiF along phi0 (rad), a history: in the order of time."""
    m = branches(phase, c, alpha)
    psi = np.arctan(alpha)
    return invert(phase + psi - TURN * m, c) - psi + TURN * m
