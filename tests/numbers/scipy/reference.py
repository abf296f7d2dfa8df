"""Computes with NumPy and SciPy what the tests beside it compare with.

Called as `reference.py TASK`, with the input as JSON on stdin; the answer is JSON on stdout.
It shares no code with the program: formulas are written down anew.
"""

import json
import sys

import numpy as np
from scipy import optimize, stats


def quantiles(cases):
    return {
        "normal": [stats.norm.ppf(p) for p in cases["normal"]],
        "student_t": [stats.t.ppf(p, free) for p, free in cases["student_t"]],
        "chi_square": [stats.chi2.ppf(p, free) for p, free in cases["chi_square"]],
        "fisher_above": [stats.f.sf(*case) for case in cases["fisher_above"]],
    }


def runout(places):
    """Offset, cosine and sine of once a turn by linear least squares."""
    angle, reading = np.array(places).T
    design = np.column_stack([np.cos(angle), np.sin(angle), np.ones_like(angle)])
    return np.linalg.lstsq(design, reading, rcond=None)[0].tolist()


def flat(phi, radius, p):
    return radius - radius * np.cos(p[0]) / np.cos(phi - p[0])


def arc(phi, radius, p):
    """The nearer crossing of a ray with the circle through the edge that leans there by `p[0]`."""
    own = radius / p[1]
    centre = np.array([radius - own * np.cos(p[0]), -own * np.sin(p[0])])
    along = centre[0] * np.cos(phi) + centre[1] * np.sin(phi)
    across = centre @ centre - along**2
    return radius - (along + np.sign(own) * np.sqrt(own**2 - across))


def spiral(phi, radius, p):
    return radius * phi * np.tan(p[0])


def log_spiral(phi, radius, p):
    return radius - radius * np.exp(-phi * np.tan(p[0]))


def cycloidal(u):
    u = np.clip(u, 0, 1)
    return u - np.sin(2 * np.pi * u) / (2 * np.pi)


def cam(phi, radius, p):
    """Depth, where the fall ends, how much of it lies before the edge, where the return begins, drop
    at the heel; the land ends at 60 degrees."""
    depth, fall, lead, back, heel = p
    end = np.radians(60)
    before = cycloidal(lead)
    falling = depth * (cycloidal(lead + (1 - lead) * phi / fall) - before) / (1 - before)
    rising = depth + (heel - depth) * cycloidal((phi - back) / (end - back))
    return np.where(phi < fall, falling, rising)


FAMILIES = {
    "flat": (flat, [0.1]),
    "arc": (arc, [0.1, 0.5]),
    "spiral": (spiral, [0.1]),
    "log-spiral": (log_spiral, [0.1]),
    "cam": (cam, [0.39, 0.31, 0.1, 0.64, 0.16]),
}


def land(case):
    """Offset and curve through a land's places, by least squares or by Tukey's biweight.

    The biweight is iterated to its fixed point with the scale of the first few rounds.
    """
    drop_of, start = FAMILIES[case["family"]]
    phi, drop = np.array(case["points"]).T
    radius = case["radius_mm"]
    weights = np.ones_like(phi)
    theta = np.array([0.0, *start])

    def misfit(theta):
        return theta[0] + drop_of(phi, radius, theta[1:]) - drop

    def solve(theta):
        found = optimize.least_squares(
            lambda theta: np.sqrt(weights) * misfit(theta) * 1000,
            theta,
            x_scale="jac",
            xtol=1e-15,
            ftol=1e-15,
            gtol=1e-15,
            max_nfev=2000,
        )
        return found.x

    theta = solve(theta)
    if case["robust"]:
        for round in range(60):
            residuals = misfit(theta)
            if round < 12:
                shrunk = np.sqrt(len(phi) / (len(phi) - len(theta)))
                scale = np.median(np.abs(residuals)) / stats.norm.ppf(0.75) * shrunk
            rest = 1 - (residuals / scale / 4.685) ** 2
            before, weights = weights, np.where(rest > 0, rest, 0) ** 2
            if np.abs(weights - before).max() < 1e-7:
                break
            theta = solve(theta)
    def curve(phi):
        return drop_of(np.array([phi]), radius, theta[1:])[0]

    step = 1e-4
    slope = (curve(step) - curve(-step)) / (2 * step)
    return {
        "offset_mm": theta[0],
        "relief_deg": np.degrees(np.arctan(slope / radius)),
        "drop_mm": curve(case["check"]),
    }


def clearance(case):
    """Least drop of a land smoothed by local quadratics with tricube weights."""
    phi, drop = np.array(case["land"]).T
    spacing = (phi[-1] - phi[0]) / (len(phi) - 1)
    half = max(min(0.3 / case["radius_mm"], case["end"] / 10), 3.5 * spacing)

    def smooth(at):
        first = min(np.searchsorted(phi, at - half, "left"), max(len(phi) - 7, 0))
        last = min(max(np.searchsorted(phi, at + half, "right"), first + 7), len(phi))
        x, y = phi[first:last] - at, drop[first:last]
        reach = max(half, np.abs(x).max()) * 1.001
        tricube = (1 - np.abs(x / reach) ** 3) ** 3
        # `polyfit` squares its weights.
        return np.polyfit(x / reach, y, 2, w=np.sqrt(tricube))[2]

    check, end = case["check"], case["judged_to"]
    inside = [at for at in [*phi, check, end] if check <= at <= end]
    found = [smooth(at) for at in inside if phi[0] <= at <= phi[-1]]
    heel = case["heel"]
    if heel and check <= heel[0] <= end:
        found.append(heel[1])
    return min(found)


def crossed(case):
    """Sums of squares as what leaving a term out of a linear model adds to its residuals."""
    values = np.array(case["values"])
    parts, operators = np.array(case["parts"]), np.array(case["operators"])

    def columns(labels):
        return (labels[:, None] == np.unique(labels)[None, :]).astype(float)

    def left(*terms):
        design = np.column_stack([np.ones(len(values)), *terms])
        found = np.linalg.lstsq(design, values, rcond=None)[0]
        return np.sum((values - design @ found) ** 2)

    part, operator = columns(parts), columns(operators)
    cell = columns(parts * 1000 + operators)
    both = left(part, operator)
    return {
        "parts": left(operator) - both,
        "operators": left(part) - both,
        "interaction": both - left(cell),
        "repeatability": left(cell),
    }


def regrinds(case):
    """A line through diameters, and where one more would lie with 95 % probability."""
    diameters = np.array(case["diameters_mm"])
    places = np.column_stack([np.ones(len(diameters)), np.arange(len(diameters))])
    line, *_ = np.linalg.lstsq(places, diameters, rcond=None)
    free = len(diameters) - 2
    scatter = np.sqrt(((diameters - places @ line) ** 2).sum() / free)
    ahead = np.column_stack([np.ones(len(case["at"])), case["at"]])
    spread = np.einsum("ij,jk,ik->i", ahead, np.linalg.inv(places.T @ places), ahead)
    reach = stats.t.ppf(0.975, free) * scatter * np.sqrt(1 + spread)
    at = ahead @ line
    return {"line": at.tolist(), "low": (at - reach).tolist(), "high": (at + reach).tolist()}


def monte_carlo(case):
    """A drop on a flat land whose radius, relief and check distance are drawn."""
    random = np.random.default_rng(7)
    count = case["trials"]
    radius = random.uniform(*case["radius_mm"], count)
    relief = np.radians(random.normal(*case["relief_deg"], count))
    check = random.normal(*case["check_mm"], count)
    drop = flat(check / radius, radius, [relief])
    return {
        "mean": drop.mean(),
        "u": drop.std(ddof=1),
        "interval": np.quantile(drop, [0.025, 0.975]).tolist(),
    }


def least_misfit(case):
    """The least range of old heights and a motion's share, over its gain and its angle: for each
    angle a linear programme in the gain and the two ends of the range."""
    angles, heights = np.array(case["angles_deg"]), np.array(case["heights_mm"])
    motion = np.array(case["motion_mm"])
    turn = np.arange(len(motion) + 1) * 360 / len(motion)
    motion = np.append(motion, motion[0])
    best = np.inf
    ones = np.ones(len(angles))
    for at in np.arange(0, 360 / case["lobes"], case["step_deg"]):
        moved = np.interp((angles - at) % 360, turn, motion)
        # heights + gain * moved stay between low and high.
        bounds = np.vstack(
            [np.column_stack([moved, 0 * ones, -ones]), np.column_stack([-moved, ones, 0 * ones])]
        )
        found = optimize.linprog(
            [0, -1, 1],
            A_ub=bounds,
            b_ub=np.concatenate([-heights, heights]),
            bounds=[(0, case["greatest_gain"]), (None, None), (None, None)],
        )
        best = min(best, found.fun)
    return best


def learnt(case):
    """Errors of settings as the most likely ones: what settings strayed in each grind is a number of
    its own beside them, so that nothing is correlated. No wheel grows."""
    by, differences = np.array(case["by"]), np.array(case["differences"])
    u, before, spread = (np.array(case[of]) for of in ("uncertainties", "before", "set"))
    records = np.array(case["records"])
    grinds, count = sorted(set(case["records"])), len(before)

    def off(at):
        """In standard uncertainties, for errors and strays in units of what is likely of each."""
        errors, strays = at[:count], at[count:].reshape(len(grinds), count)
        each = errors * before + (strays * spread)[[grinds.index(one) for one in records]]
        return np.concatenate([((by * each).sum(axis=1) - differences) / u, at])

    size = count * (1 + len(grinds))
    least = np.full(size, -np.inf)
    least[count - 1] = 0.0
    found = optimize.least_squares(
        off, np.full(size, 0.01), bounds=(least, np.inf), xtol=1e-15, ftol=1e-15, gtol=1e-12
    )
    own = np.linalg.inv(found.jac.T @ found.jac)
    return {
        "values": (found.x[:count] * before).tolist(),
        "uncertainties": (np.sqrt(np.diag(own))[:count] * before).tolist(),
    }


if __name__ == "__main__":
    task = globals()[sys.argv[1]]
    json.dump(task(json.load(sys.stdin)), sys.stdout)
