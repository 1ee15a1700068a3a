"""Boxes and rectangles of a rig, as Mitsuba 3 places its own of edge 2 round the origin."""
import numpy as np
import mitsuba as mi


def box(low, high):
    low, high = np.array(low), np.array(high)
    return mi.ScalarTransform4f().translate(list((low + high) / 2)).scale(list((high - low) / 2))


def rectangle(corners):
    """A rectangle from three of its corners, facing along cross(right, up)."""
    a, b, d = (np.array(corners[k]) for k in (0, 1, 3))
    centre, u, v = (np.array(corners[0]) + np.array(corners[2])) / 2, (b - a) / 2, (a - d) / 2
    n = np.cross(u, v)
    m = np.eye(4)
    m[:3, 0], m[:3, 1], m[:3, 2], m[:3, 3] = u, v, n / np.linalg.norm(n), centre
    return mi.ScalarTransform4f(m)
