"""Is a mesh fit to be measured? What can be put right without guessing is, and said in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from thermoforming.geometry.surface import Edges, Surface

KINDS = {"surface": "tool-side surface alone", "solid": "closed part with its thickness",
         "block": "closed tool block"}

_PACKED = 2**21  # three numbers below this fit into 63 bits


def merged(vertices: np.ndarray, faces: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points that lie within half a millionth of the part's size of each other become one.

    Parameters
    ----------
    vertices : array, shape (n, 3)
        Finite coordinates. [m]
    faces : array of int, shape (m, 3)
        Triangles. [-]

    Returns
    -------
    vertices, faces : arrays
        Without repeated and without unused points.
    """
    low = vertices.min(axis=0)
    size = float(np.ptp(vertices, axis=0).max()) or 1.0
    steps = np.round((vertices - low) * ((_PACKED - 2) / size)).astype(np.int64)
    key = (steps[:, 0] * _PACKED + steps[:, 1]) * _PACKED + steps[:, 2]
    _, first, number = np.unique(key, return_index=True, return_inverse=True)
    faces = number.reshape(-1)[faces]
    used = np.zeros(len(first), dtype=bool)
    used[faces] = True
    return vertices[first[used]], (np.cumsum(used) - 1)[faces]


@dataclass(frozen=True)
class Finding:
    """One thing noticed about a file or a mesh.

    Parameters
    ----------
    verdict : str
        pass, caution or stop.
    text : str
        What was found, with its number.
    advice : str
        What to do about it; empty when nothing.
    """

    verdict: str
    text: str
    advice: str = ""


def put_right(surface: Surface, kind: str) -> tuple[Surface, list[Finding]]:
    """Remove useless triangles, turn all normals the same way, and report all that was found.

    Parameters
    ----------
    surface : Surface
        Merged vertices. [m]
    kind : str
        One of KINDS: the tool-side surface alone (open at its rim), a closed part with its
        thickness, or a closed tool block.

    Returns
    -------
    surface : Surface
        Cleaned; normals up for a tool side, outwards for a closed body. [m]
    findings : list of Finding
        Every problem in words; no stop among them when the mesh can be used.
    """
    surface, findings = _without_useless(surface)
    surface, turned = _turned_alike(surface)
    findings += turned
    surface, faced = _facing(surface, kind)
    return surface, findings + faced + _boundaries(surface, kind) + _bodies(surface)


def rims(faces_open: np.ndarray) -> list[np.ndarray]:
    """Vertex numbers of each connected run of open edges, the longest first.

    Parameters
    ----------
    faces_open : array of int, shape (k, 2)
        Open edges (`Surface.edges.open`). [-]
    """
    if len(faces_open) == 0:
        return []
    used, ends = np.unique(faces_open, return_inverse=True)
    label = _components(len(used), ends.reshape(-1, 2))
    groups = [used[label == i] for i in range(label.max() + 1)]
    return sorted(groups, key=len, reverse=True)


def bodies(surface: Surface) -> np.ndarray:
    """Number of the connected piece that each triangle belongs to. [-]"""
    return _components(len(surface.vertices), surface.faces[:, :2],
                       surface.faces[:, 1:])[surface.faces[:, 0]]


def _components(count: int, *pairs: np.ndarray) -> np.ndarray:
    pairs = np.concatenate(pairs)
    graph = coo_array((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])),
                      shape=(count, count))
    return connected_components(graph, directed=False)[1]


def _without_useless(surface: Surface) -> tuple[Surface, list[Finding]]:
    faces = surface.faces
    longest = np.max([np.linalg.norm(surface.corners[:, i] - surface.corners[:, i - 1], axis=1)
                      for i in range(3)], axis=0)
    flat = surface.areas <= 1e-9 * np.maximum(longest**2, 1e-24)
    ordered = np.sort(faces, axis=1)
    order = _sorted(ordered)
    same = np.all(ordered[order][1:] == ordered[order][:-1], axis=1)
    twice = np.zeros(len(faces), dtype=bool)
    twice[order[1:][same]] = True
    findings = []
    if flat.any():
        findings.append(Finding("caution", f"{flat.sum()} triangles have no area; left out.",
                                "Export with a coarser merging distance if gaps appear."))
    if (twice & ~flat).any():
        findings.append(Finding("caution", f"{(twice & ~flat).sum()} triangles are there twice; "
                                "one of each is kept.", "Check that no body was exported twice."))
    useless = flat | twice
    if useless.all():
        return surface, [Finding("stop", "No triangle has an area.", "Export the part again.")]
    return (Surface(surface.vertices, faces[~useless]) if useless.any() else surface), findings


def _sorted(ordered: np.ndarray) -> np.ndarray:
    """Order of rows of three numbers; packed into one number where they fit."""
    if ordered.max() < _PACKED:
        return np.argsort((ordered[:, 0] * _PACKED + ordered[:, 1]) * _PACKED + ordered[:, 2],
                          kind="stable")
    return np.lexsort(ordered.T[::-1])


def _turned_alike(surface: Surface) -> tuple[Surface, list[Finding]]:
    """Make neighbours run against each other along their edges.

    Each triangle gets two nodes, as it is and turned over; edges join the nodes that agree. The
    piece of that graph that holds the first triangle as it is says how all the others must turn.
    """
    edges = surface.edges
    if edges.against.all():
        return surface, _crowded(edges)
    count = len(surface.faces)
    a, b = edges.pairs[:, 0], edges.pairs[:, 1]
    turned = np.where(edges.against, 0, count)
    label = _components(2 * count, np.column_stack([a, b + turned]),
                        np.column_stack([a + count, b + count - turned]))
    if np.any(label[:count] == label[count:]):
        return surface, [Finding(
            "stop", "The surface has only one side (like a Möbius strip): its normals cannot be "
            "made to agree.", "Find the place where faces cross or join wrongly in the CAD model "
            "and export again.")]
    smallest = np.minimum(label[:count], label[count:])
    flip = label[:count] != smallest
    # turn the smaller share of each piece
    piece = np.unique(smallest, return_inverse=True)[1]
    share = np.bincount(piece, flip) / np.bincount(piece)
    flip ^= (share > 0.5)[piece]
    faces = surface.faces.copy()
    faces[flip] = faces[flip][:, ::-1]
    found = Finding("caution", f"{flip.sum()} triangles were facing the wrong way and were turned "
                    "over.", "Look at the picture; if a region looks inside out, repair the file.")
    return Surface(surface.vertices, faces), [found, *_crowded(edges)]


def _crowded(edges: Edges) -> list[Finding]:
    if not edges.crowded:
        return []
    return [Finding("caution", f"{edges.crowded} edges have three triangles or more.",
                    "Bodies touch or cross there; join them in CAD, or measures near these "
                    "edges are not to be trusted.")]


def _facing(surface: Surface, kind: str) -> tuple[Surface, list[Finding]]:
    """Normals up (tool side) or outwards (closed bodies)."""
    if kind == "surface":
        measure = float(surface.areas @ surface.normals[:, 2])
        words = "down"
    else:
        measure = signed_volume(surface)
        words = "inwards"
    if measure >= 0.0:
        return surface, []
    return surface.flipped(), [Finding("caution", f"The normals pointed {words}; all were turned.",
                                       "Check the up direction if the picture is upside down.")]


def signed_volume(surface: Surface) -> float:
    """Volume enclosed, positive when the normals point outwards. [m3]

    Notes
    -----
    Sum of the tetrahedra between the triangles and the middle of the box; means something only
    for a closed surface.
    """
    a, b, c = np.moveaxis(surface.corners - surface.bounds.mean(axis=0), 1, 0)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)


def _boundaries(surface: Surface, kind: str) -> list[Finding]:
    loops = rims(surface.edges.open)
    if kind == "surface":
        return _rim_findings(surface, loops)
    if not loops:
        return [Finding("pass", "The body is closed.")]
    return [Finding("stop", f"The body is not closed: {len(surface.edges.open)} open edges in "
                    f"{len(loops)} places, the longest near {_place(surface, loops[0])}.",
                    "Close the gaps in CAD and export again, or, if it is meant to be "
                    f"open, choose the kind '{KINDS['surface']}'.")]


def _rim_findings(surface: Surface, loops: list[np.ndarray]) -> list[Finding]:
    if not loops:
        return [Finding("stop", "The surface has no open rim: it is a closed body.",
                        f"Choose the kind '{KINDS['solid']}' or '{KINDS['block']}', or export "
                        "the tool-side surface alone.")]
    if len(loops) == 1:
        return [Finding("pass", "One open rim, no other open edge.")]
    places = "; ".join(_place(surface, loop) for loop in loops[1:4])
    holes = "is 1 hole" if len(loops) == 2 else f"are {len(loops) - 1} holes"
    return [Finding("caution", f"Besides the rim there {holes}, near {places}"
                    f"{' and more' if len(loops) > 4 else ''}.",
                    "Trimmed openings must be filled before forming: the sheet spans them. Fill "
                    "them in CAD, unless the gaps are too small to matter.")]


def _place(surface: Surface, vertices: np.ndarray) -> str:
    x, y, z = surface.vertices[vertices].mean(axis=0) * 1e3
    return f"x {x:.1f}, y {y:.1f}, z {z:.1f} mm"


def _bodies(surface: Surface) -> list[Finding]:
    number = bodies(surface)
    if number.max() == 0:
        return []
    share = np.sort(np.bincount(number, surface.areas))[::-1] / surface.area
    return [Finding("caution", f"{len(share)} separate bodies; the largest has "
                    f"{share[0]:.0%} of the area.",
                    "Join them, or delete what is not the part; as it stands all are measured "
                    "together.")]
