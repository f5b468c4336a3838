"""What chassis.py and leaves.py share: bodies in balance, derivatives, sections by integration. NumPy and SciPy."""

import math

import numpy as np
from scipy.integrate import quad

INCH = 0.0254  # m, exact
G0 = 9.80665  # m/s2, exact
G = G0 / INCH  # in/s2

# --- a plane body at rest: x forward, y up, couples from x to y (nose up) -----------------------------------------------

COUPLE = np.array([0.0, 0.0, 1.0])
NOTHING = np.zeros(3)


def push(at, force):
    """A force as a wrench: both components and the moment about the origin."""
    return np.array([force[0], force[1], at[0] * force[1] - at[1] * force[0]], dtype=float)


def up(x):
    return push((x, 0), (0, 1))


def balance(unknown, loads):
    """How large each unknown wrench must be to hold the loads; several bodies by wrenches end to end."""
    return np.linalg.solve(np.column_stack(unknown), -np.sum(loads, axis=0))


THRUST = push((0, 0), (1, 0))  # at the ground below the rear axle, the origin of a car's side view


def gained(force, h, wheelbase):
    """What the rear axle gains when the ground pushes with a force, and the mass at the height h resists."""
    return balance([up(0), up(wheelbase), THRUST], [push((0, h), (-force, 0))])[0]


def linear(*equations):
    """Each equation gives the factors of its unknowns by name and, as "=", the right side (none is 0)."""
    names = sorted({name for equation in equations for name in equation} - {"="})
    matrix = np.array([[float(equation.get(name, 0)) for name in names] for equation in equations])
    right = np.array([float(equation.get("=", 0)) for equation in equations])
    return dict(zip(names, map(float, np.linalg.solve(matrix, right))))


def fixed(name, value=0.0):
    return {name: 1, "=": value}


# --- derivatives and sections -------------------------------------------------------------------------------------------


def slope(of, x):
    """By a step in the complex plane: exact to the last digits."""
    step = 1e-30
    return np.imag(of(x + step * 1j)) / step


def polar_moment(outside, inside=0.0):
    """Rings of the radius r."""
    return quad(lambda r: 2 * math.pi * r**3, inside / 2, outside / 2)[0]


def second_moment(width, thickness):
    return quad(lambda y: width * y**2, -thickness / 2, thickness / 2)[0]
