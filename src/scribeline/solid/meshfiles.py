"""A mesh as a file that others read: STL, 3MF and GLB. The same mesh always gives the same bytes."""

from __future__ import annotations

import io
import json
import struct
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

import numpy as np

from scribeline.solid.body import Mesh

if TYPE_CHECKING:
    from numpy.typing import NDArray

MM_PER_METRE = 1000.0

WOOD = (0.72, 0.53, 0.33, 1.0)
"""Base colour of the GLB's material, linear red, green, blue and opacity: a pale brown of our own."""

_CORE_3MF = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)
"""The earliest date a ZIP can carry, for bytes that do not change with the clock."""


def stl(mesh: Mesh, name: str = "body") -> bytes:
    """Binary STL in mm: single precision, which is 0.00006 mm at a bass's length.

    STL carries no unit; programs for printing and routing take its numbers for mm.

    Args:
        mesh: the surface.
        name: put into the header, cut to what fits; it never begins with "solid", which would mean text.
    """
    corners = mesh.corners.astype("<f4")
    normal = np.cross(mesh.corners[:, 1] - mesh.corners[:, 0], mesh.corners[:, 2] - mesh.corners[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    normal = np.divide(normal, length, out=np.zeros_like(normal), where=length > 0)
    facets = np.zeros(
        len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")]
    )
    facets["normal"], facets["corners"] = normal, corners
    header = f"mm {name}".encode("ascii", "replace")[:80].ljust(80)
    return header + struct.pack("<I", len(corners)) + facets.tobytes()


def three_mf(mesh: Mesh, name: str = "body") -> bytes:
    """3MF (core specification), in mm, coordinates to a millionth of a millimetre."""
    vertices = "".join(f'<vertex x="{x:.6f}" y="{y:.6f}" z="{z:.6f}"/>' for x, y, z in mesh.vertices.tolist())
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.triangles.tolist())
    # XML has no room for control characters, not even by their code.
    title = escape("".join(sign if sign.isprintable() else " " for sign in name), {'"': "&quot;"})
    model = (
        f'<model unit="millimeter" xml:lang="en" xmlns="{_CORE_3MF}">'
        f'<resources><object id="1" type="model" name="{title}"><mesh>'
        f"<vertices>{vertices}</vertices><triangles>{triangles}</triangles>"
        '</mesh></object></resources><build><item objectid="1"/></build></model>'
    )
    types = (
        f'<Types xmlns="{_PACKAGE}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
    )
    relations = (
        f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rel0" Target="/3D/3dmodel.model" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for path, text in (
            ("[Content_Types].xml", types),
            ("_rels/.rels", relations),
            ("3D/3dmodel.model", model),
        ):
            entry = zipfile.ZipInfo(path, _ZIP_EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            entry.create_system = 3
            package.writestr(entry, '<?xml version="1.0" encoding="UTF-8"?>\n' + text)
    return out.getvalue()


@dataclass(frozen=True)
class Piece:
    """One solid of a scene.

    Attributes:
        name: of its node.
        mesh: its surface.
        colour: red, green, blue and how solid it is, each 0 to 1.
    """

    name: str
    mesh: Mesh
    colour: tuple[float, float, float, float] = WOOD


def glb(mesh: Mesh, name: str = "body") -> bytes:
    """Binary glTF 2.0 of one mesh; see `glb_scene`."""
    return glb_scene([Piece(name, mesh)])


def glb_scene(pieces: Sequence[Piece]) -> bytes:
    """Binary glTF 2.0 for viewers: metres and y up, as that standard wants; one node a piece, by its name.

    The instrument's (x, y, z) in mm becomes (x, z, −y) in metres: the neck points left, the top looks up.
    """
    chunk = bytearray()
    views: list[dict[str, int]] = []
    accessors: list[dict[str, Any]] = []
    for piece in pieces:
        x, y, z = piece.mesh.vertices.T / MM_PER_METRE
        places: NDArray[np.float32] = np.ascontiguousarray(np.column_stack([x, z, -y]).astype("<f4"))
        indices = piece.mesh.triangles.astype("<u4")
        for content, target in ((places.tobytes(), 34962), (indices.tobytes(), 34963)):
            views.append(
                {"buffer": 0, "byteOffset": len(chunk), "byteLength": len(content), "target": target}
            )
            chunk += content
        accessors += [
            {
                "bufferView": len(views) - 2,
                "componentType": 5126,
                "count": len(places),
                "type": "VEC3",
                "min": [float(low) for low in places.min(axis=0)],
                "max": [float(high) for high in places.max(axis=0)],
            },
            {
                "bufferView": len(views) - 1,
                "componentType": 5125,
                "count": int(indices.size),
                "type": "SCALAR",
            },
        ]
    scene = {
        "asset": {"version": "2.0", "generator": "scribeline"},
        "scene": 0,
        "scenes": [{"nodes": list(range(len(pieces)))}],
        "nodes": [{"mesh": n, "name": piece.name} for n, piece in enumerate(pieces)],
        "meshes": [
            {"primitives": [{"attributes": {"POSITION": 2 * n}, "indices": 2 * n + 1, "material": n}]}
            for n in range(len(pieces))
        ],
        "materials": [_material(piece) for piece in pieces],
        "accessors": accessors,
        "bufferViews": views,
        "buffers": [{"byteLength": len(chunk)}],
    }
    text = json.dumps(scene, separators=(",", ":"), ensure_ascii=True).encode()
    text += b" " * (-len(text) % 4)
    parts = (text, b"JSON"), (bytes(chunk), b"BIN\0")
    body = b"".join(struct.pack("<I", len(content)) + kind + content for content, kind in parts)
    return struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body


def _material(piece: Piece) -> dict[str, Any]:
    clear = {"alphaMode": "BLEND", "doubleSided": True} if piece.colour[3] < 1 else {}
    return {
        "name": "wood" if piece.colour == WOOD else piece.name,
        "pbrMetallicRoughness": {
            "baseColorFactor": list(piece.colour),
            "metallicFactor": 0.0,
            "roughnessFactor": 0.8,
        },
        **clear,
    }


def mesh_files(mesh: Mesh, name: str, stem: str = "body") -> dict[str, bytes]:
    """The mesh in every format, by file name.

    Args:
        mesh: the surface.
        name: of the job.
        stem: of the files' names.
    """
    return {
        f"{stem}.stl": stl(mesh, name),
        f"{stem}.3mf": three_mf(mesh, name),
        f"{stem}.glb": glb(mesh, name),
    }
