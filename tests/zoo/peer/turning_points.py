"""Which way the target moves at each crossing of the middle of the fringes.

Between two crossings the phase goes on by half a fringe, or the target turns and
the phase comes back. The smoothest course wins: a Kalman filter of phase, rate and
acceleration (Kalman 1960) runs along the crossings for each history of turns that
differs in the last few, and of those that do not the likelier is kept (Viterbi
1967). To its misses are added what each half-fringe looks like at its top, and the
lean of the fringes, which says which way in all.
"""
import numpy as np
from scipy.signal import find_peaks

# Histories: sign of the way (bit 0) and whether it turned in the last ones.
LAST = 4
# What a turning point costs in -ln L, tried on seeds for work: flat from 1 to 4.
TURN_COST = 1.5
STATES = 2 ** (LAST + 1)
PSI = np.arctan(4.0)


def looks(y, at, noise):
    """Cost of taking each half-fringe for a turning point: more where its top is
    whole, less where it is too low or has a dent."""
    odds = np.zeros(at.size - 1)
    scatter = np.hypot(noise, 0.1)
    for k, (a, b) in enumerate(zip(at[:-1], at[1:])):
        part = y[int(np.ceil(a)):int(b) + 1]
        if part.size < 3:
            odds[k] = 1.5
            continue
        part = part * np.sign(np.sum(part))
        short = (1 - np.max(part)) / scatter
        odds[k] = 1.5 - np.clip(max(short, 0) ** 2 / 2, 0, 7)
        dents = find_peaks(-part, prominence=max(5 * noise, 0.1))[0]
        if dents.size % 2 == 1:
            odds[k] -= 4
    return odds


def steepness(y, at):
    """Slope of each crossing without its sign, per sample: of a sine of height 1
    it is the rate of its phase."""
    slope = np.abs(np.gradient(y))
    reach = max(1, int(0.08 * np.median(np.diff(at))))
    return np.array([max(np.max(slope[max(0, int(t) - reach):
                                      int(t) + reach + 2]), 1e-9) for t in at])


def leans(steep, falls):
    """How much steeper each crossing is than its neighbours (log), positive where
    that means that the target recedes; without unit."""
    steep = np.log(steep)
    around = np.pad(steep, 1, mode="reflect")
    excess = steep - (around[:-2] + around[2:]) / 2
    return np.where(falls, excess, -excess)


def gains(gap, rates, drive, spread):
    """Kalman gains (3 by 2), inverse variances of the misses in phase and rate and
    their cost, the same for all histories."""
    p = np.diag([spread ** 2, 4.0, 30.0])
    steps, all_gains, inverses, weights = [], [], [], []
    for t, rate in zip(gap, rates[1:]):
        f = np.array([[1, t, t * t / 2], [0, 1, t], [0, 0, 1]])
        p = f @ p @ f.T + drive * np.array([
            [t ** 5 / 20, t ** 4 / 8, t ** 3 / 6],
            [t ** 4 / 8, t ** 3 / 3, t * t / 2], [t ** 3 / 6, t * t / 2, t]])
        s = p[:2, :2] + np.diag([spread ** 2, (0.35 * rate) ** 2 + 0.3])
        inverse = np.linalg.inv(s)
        k = p[:, :2] @ inverse
        p = p - k @ p[:2]
        p = (p + p.T) / 2
        steps.append(f.T)
        all_gains.append(k.T)
        inverses.append(inverse)
        weights.append(-np.log(np.linalg.det(inverse)) / 2)
    return steps, all_gains, inverses, weights


def follow(gap, rates, falls, odds, lean_cost, c, drive, spread):
    """The cheapest history: order and sign of each crossing, and its cost."""
    child = pick = np.arange(STATES)
    sign_now = 1 - 2 * (child & 1)
    turned = (child >> 1) & 1
    parents = np.array([
        ((child & 1) ^ turned) | (((child >> 2) | (old << (LAST - 1))) << 1)
        for old in (0, 1)])
    on_sign = 1 - 2 * (np.arange(STATES) & 1)
    # The first crossing falls at pi/2 going on, at -pi/2 going back.
    order = np.where((on_sign > 0) == falls[0], 0, -1)
    sine = c * np.sin(PSI)

    def measured(n, s, rate):
        """phi0 and its rate at a crossing of order n and sign s."""
        even = n % 2 == 0
        return (np.pi / 2 + np.pi * n + np.where(even, 1, -1) * c * np.cos(PSI),
                s * rate * np.where(even, 1 - sine, 1 + sine))

    mean = np.zeros((STATES, 3))
    mean[:, 0], mean[:, 1] = measured(order, on_sign, rates[0])
    cost = np.where(pick < 2, 0.0, 1e9) + lean_cost[pick & 1, 0]
    steps, all_gains, inverses, weights = gains(gap, rates, drive, spread)
    back = np.empty((gap.size, STATES), np.int64)
    orders = np.empty((gap.size + 1, STATES), np.int64)
    orders[0] = order
    for k in range(gap.size):
        predicted = mean @ steps[k]
        # Going on, the order moves by the sign; turning, it stays.
        next_order = orders[k][parents] + np.where(turned, 0, sign_now)
        phase, rate = measured(next_order, sign_now, rates[k + 1])
        m0 = phase - predicted[parents, 0]
        m1 = rate - predicted[parents, 1]
        v = inverses[k]
        square = v[0, 0] * m0 * m0 + 2 * v[0, 1] * m0 * m1 + v[1, 1] * m1 * m1
        new = (cost[parents] + 3 * np.log1p(square / 6) + weights[k]
               + np.where(turned, TURN_COST + odds[k], 0))
        better = np.argmin(new, axis=0)
        cost = new[better, pick] + lean_cost[pick & 1, k + 1]
        chosen = parents[better, pick]
        miss = np.stack((m0[better, pick], m1[better, pick]), axis=1)
        mean = predicted[chosen] + miss @ all_gains[k]
        orders[k + 1] = next_order[better, pick]
        back[k] = chosen
    state = int(np.argmin(cost))
    least = float(cost[state])
    found = np.empty(gap.size + 1, np.int64)
    sign = np.empty(gap.size + 1, np.int64)
    for k in range(gap.size, -1, -1):
        found[k], sign[k] = orders[k][state], 1 - 2 * (state & 1)
        if k > 0:
            state = back[k - 1][state]
    return found, sign, least


def lean_sizes(lean):
    """Mean and scatter of a lean of either sign, from its moments."""
    most = 5 * np.median(np.abs(lean)) + 1e-9
    m2, m4 = (np.mean(np.clip(lean, -most, most) ** k) for k in (2, 4))
    size = max((3 * m2 ** 2 - m4) / 2, 0) ** 0.25
    return size, np.sqrt(max(m2 - size ** 2, 0.05 * m2)) + 1e-6


def lean_costs(lean, size, scatter):
    """Cost of each crossing for going on and for going back (2 by n)."""
    return np.array([1.5 * np.log1p((s * lean - size) ** 2 / (3 * scatter ** 2))
                     + np.log(scatter) for s in (1, -1)])


def decode(y, at, falls, noise):
    """Order and sign of each crossing, whether the lean told the sign, and a
    first value of C."""
    unit = np.median(np.diff(at))
    gap = np.diff(at) / unit
    odds = looks(y, at, noise)
    steep = steepness(y, at)
    lean = leans(steep, falls)

    def run(size, scatter, drive):
        found = follow(gap, steep * unit, falls, odds,
                       lean_costs(lean, size, scatter), np.tanh(size / 2), drive,
                       np.hypot(0.2, noise))
        return found[2], found, size, drive

    # From no C and from what the lean of either sign tells, then by turns.
    ends = []
    for first in ((0.0, np.std(np.clip(lean, -1, 1)) + 1e-6), lean_sizes(lean)):
        best = min((run(*first, drive) for drive in (0.01, 0.3, 10.0)),
                   key=lambda found: found[0])
        ends.append(best)
        for _ in range(2):
            along = best[1][1] * lean
            size = max(np.median(along), 0)
            scatter = np.median(np.abs(along - size)) / 0.6745 + 0.02
            best = run(size, scatter, best[3])
            ends.append(best)
    _, (order, sign, _), size, _ = min(ends, key=lambda found: found[0])
    along = np.clip(sign * lean, -3, 3)
    told = np.mean(along) * np.sqrt(along.size) > 4 * np.std(along)
    return order, sign, bool(told), np.tanh(size / 2)
