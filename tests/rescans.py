"""A second scan of a surface: other vertices on the same facets, with noise of their own."""

import numpy as np

from seatwright.mesh import Surface


def scan_again(surface: Surface, rng: np.random.Generator, *, noise_mm: float) -> Surface:
    """Move every vertex to a drawn place in one of its facets, then add noise along every axis."""
    vertices, faces = surface.vertices_mm, surface.faces
    face_of = np.zeros(len(vertices), dtype=np.int64)
    face_of[faces.ravel()] = np.repeat(np.arange(len(faces)), 3)
    corners = vertices[faces[face_of]]
    share = 0.5 * rng.dirichlet(np.ones(3), len(vertices))
    placed = 0.5 * vertices + (share[:, :, None] * corners).sum(axis=1)
    return Surface(placed + rng.normal(0, noise_mm, vertices.shape), faces)
