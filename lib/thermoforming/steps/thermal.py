"""Sheets and tools as the heat solver takes them, from the material tables."""

from __future__ import annotations

from thermoforming.physics.conduction import Side, Solid
from thermoforming.reference import Material


def solid_of(material: Material) -> Solid:
    """Typical heat content and conductivity over temperature of a sheet or tool material."""
    k = material.curve("conductivity")
    density = material.band("density").typical
    if "enthalpy" in material:
        heat = material.curve("enthalpy")
        return Solid.curves(density, heat.temperature, heat.typical, k.temperature, k.typical)
    room = (273.15, 473.15)
    per_kelvin = material.band("specific_heat").typical
    return Solid.curves(density, room, (0.0, per_kelvin * (room[1] - room[0])), k.temperature,
                        k.typical)


def open_air(air: float, film: float, emissivity: float) -> Side:
    """A face that loses heat to air by convection and to its surroundings by radiation."""
    return Side(air, film, around=air, from_around=emissivity)


def diffusivity(material: Material, temperature: float) -> float:
    """Typical thermal diffusivity near a temperature. [m2/s]"""
    solid = solid_of(material)
    rise = (solid.content(temperature + 5.0) - solid.content(temperature - 5.0)) / 10.0
    return float(material.curve("conductivity").at(temperature, outside="hold").typical / rise)
