"""What is to be built, in metres and tool coordinates (z along the pull, sheet from above)."""

from __future__ import annotations

from dataclasses import dataclass

from thermoforming.guard import Refused, within

MM = 1000.0  # millimetres in a metre


@dataclass(frozen=True)
class Vent:
    """A hole that takes the air from the face to the room below: narrow, then relieved."""

    number: int
    x: float
    y: float
    z: float
    bore: float
    narrow: float
    relief: float


@dataclass(frozen=True)
class Drain:
    """A hole through the outer wall near the base, so that a hollow print keeps no liquid."""

    x: float
    y: float
    bore: float


@dataclass(frozen=True)
class Hole:
    """A vertical hole through the flange or base: fixing (through) or dowel (blind)."""

    x: float
    y: float
    bore: float
    depth: float | None = None  # None: through


@dataclass(frozen=True)
class Channel:
    """A cooling channel: a path in plan that follows the face at a depth to its centre."""

    path: tuple[tuple[float, float], ...]
    bore: float
    depth: float


@dataclass(frozen=True)
class ToolPlan:
    """Everything that decides the solid.

    Attributes
    ----------
    scale : tuple of float
        Tool over part along x, y, z. [-]
    run_off : float
        Flange beyond the part's rim. [m]
    below : float
        Material, or room, below the deepest point of the face. [m]
    wall : float
        Least wall between the face and the room below; 0 leaves the tool solid. [m]
    ribs : tuple of int
        How many ribs stand across x and across y, evenly spaced between the outer walls. [-]
    rib_thickness, rib_height : float
        Of the ribs below the wall; a height beyond the room's makes them stand on the base. [m]
    air_notch : float
        Height of the openings in the ribs at the base that join the rooms. [m]
    vents, drains, holes, channels : tuple
        Fittings.
    build : tuple of float or None
        Largest piece that can be built. [m]
    joint_clearance : float
        Play of the joints between pieces, on each side. [m]
    cell : float
        Grid on which the room below is worked out. [m]
    """

    scale: tuple[float, float, float] = (1.0, 1.0, 1.0)
    run_off: float = 10e-3
    below: float = 15e-3
    wall: float = 6e-3
    rib_thickness: float = 3e-3
    ribs: tuple[int, int] = (0, 0)
    rib_height: float = 1.0
    air_notch: float = 6e-3
    vents: tuple[Vent, ...] = ()
    drains: tuple[Drain, ...] = ()
    holes: tuple[Hole, ...] = ()
    channels: tuple[Channel, ...] = ()
    build: tuple[float, float, float] | None = None
    joint_clearance: float = 0.15e-3
    cell: float = 0.6e-3

    def __post_init__(self):
        for axis, factor in zip("xyz", self.scale, strict=True):
            within(f"scale along {axis}", factor, 0.5, 2.0)
        within("run-off", self.run_off, 0.0, 0.5, "m")
        within("depth below the face", self.below, 1e-3, 1.0, "m")
        within("wall", self.wall, 0.0, 0.2, "m")
        within("number of ribs", self.ribs, 0, 200)
        within("grid of the room", self.cell, 0.1e-3, 5e-3, "m")
        if any(self.ribs):
            within("rib height", self.rib_height, 1e-3, 1.0, "m")
            within("rib thickness", self.rib_thickness, 0.3e-3, 0.1, "m")
        if self.wall > 0.0 and self.wall >= self.below:
            raise Refused("wall", f"wall is {self.wall * MM:.3g} mm, but only "
                                  f"{self.below * MM:.3g} mm stand below the deepest point of "
                                  f"the face; it must be less.")
        for vent in self.vents:
            within(f"bore of vent {vent.number}", vent.bore, 0.1e-3, 20e-3, "m")
            within(f"relief of vent {vent.number}", vent.relief, vent.bore, 50e-3, "m")
        for channel in self.channels:
            within("bore of a channel", channel.bore, 1e-3, 50e-3, "m")
            within("depth of a channel", channel.depth, channel.bore / 2, 0.2, "m", above=True)
            if len(channel.path) < 2:
                raise Refused("channel", "A channel needs a path of at least two points.")
