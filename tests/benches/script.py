"""What one would write for the same job with NumPy and SciPy: the bench holds `verify` to it.

    python script.py FOLDER

Takes the eccentricity from the reference trace, lays the passes of the other one over each other,
fits a parabola to each land and tells its drop half a millimetre behind the edge and its clearance
at the heel, each with an uncertainty from ten thousand trials.
"""

import sys
from pathlib import Path

import numpy as np
from scipy import optimize, signal, stats

DIAMETER, BALL, CHECK, LAND_DEG = 20.0, 1.0, 0.5, 10.0
LIMIT_OF_ERROR, TRIALS = 0.002, 10_000


def read(path):
    table = np.genfromtxt(path, delimiter=",", names=True)
    return np.radians(table["angle_deg"]), table["reading_mm"]


def eccentric(angle, mean, x, y):
    return mean + x * np.cos(angle) + y * np.sin(angle)


def binned(angle, reading, cells):
    means, edges, _ = stats.binned_statistic(
        np.mod(angle, 2 * np.pi), reading, "mean", cells, (0.0, 2 * np.pi)
    )
    middles = (edges[1:] + edges[:-1]) / 2
    seen = np.isfinite(means)
    return middles, np.interp(middles, middles[seen], means[seen], period=2 * np.pi)


def land(arc, drop, random):
    """Drop behind the edge and clearance at the heel, with standard uncertainties."""
    (curve, covariance) = optimize.curve_fit(
        lambda at, level, slope, bend: level + slope * at + bend * at * at, arc, drop
    )
    left = np.std(drop - np.polyval(curve[::-1], arc), ddof=3)
    edge = random.uniform(-LIMIT_OF_ERROR, LIMIT_OF_ERROR, (1, TRIALS))
    drawn = drop[:, None] + edge + left * random.standard_normal((drop.size, TRIALS))
    bend, slope, level = np.polyfit(arc, drawn, 2)
    figures = np.stack([level + slope * CHECK + bend * CHECK**2, drawn[arc > CHECK].min(axis=0)])
    return figures.mean(axis=1), figures.std(axis=1), covariance


def main(folder):
    random = np.random.default_rng(1)
    angle, reading = read(folder / "traces" / "shank.csv")
    (_, x, y), _ = optimize.curve_fit(eccentric, angle, reading)
    angle, reading = read(folder / "traces" / "seat.csv")
    angle, reading = binned(angle, reading - eccentric(angle, 0.0, x, y), 1440)
    edges, _ = signal.find_peaks(reading, height=np.percentile(reading, 99), distance=200)
    for edge in edges:
        behind = np.arange(int(LAND_DEG / 360 * reading.size))
        arc = behind / reading.size * np.pi * DIAMETER
        drop = reading[edge] - reading[(edge + behind) % reading.size]
        (drop_mm, clearance_mm), (drop_u, clearance_u), _ = land(arc, drop, random)
        print(f"drop {drop_mm:.4f} ± {drop_u:.4f} mm, clearance {clearance_mm:.4f} ± {clearance_u:.4f} mm")


main(Path(sys.argv[1]))
