"""Units at the page: SI inside the library, millimetres or inches, °C and kPa for the reader.

A quantity is declared with its SI `unit` and the unit in which it is `shown`. Choosing inches
changes what lengths, areas and volumes are shown in; nothing else.
"""

from __future__ import annotations

from thermoforming.guard import Refused

INCH = 0.0254  # exact by definition (international inch)

# shown unit: (SI unit, size of one shown unit in SI, zero of the shown scale in SI)
SHOWN: dict[str, tuple[str, float, float]] = {
    "-": ("1", 1.0, 0.0),
    "%": ("1", 1e-2, 0.0),
    "mm": ("m", 1e-3, 0.0),
    "µm": ("m", 1e-6, 0.0),
    "m": ("m", 1.0, 0.0),
    "in": ("m", INCH, 0.0),
    "cm²": ("m2", 1e-4, 0.0),
    "mm²": ("m2", 1e-6, 0.0),
    "in²": ("m2", INCH**2, 0.0),
    "cm³": ("m3", 1e-6, 0.0),
    "L": ("m3", 1e-3, 0.0),
    "in³": ("m3", INCH**3, 0.0),
    "°C": ("K", 1.0, 273.15),
    "K": ("dK", 1.0, 0.0),
    "°": ("rad", 0.017453292519943295, 0.0),
    "Pa": ("Pa", 1.0, 0.0),
    "kPa": ("Pa", 1e3, 0.0),
    "MPa": ("Pa", 1e6, 0.0),
    "GPa": ("Pa", 1e9, 0.0),
    "bar": ("Pa", 1e5, 0.0),
    "mPa·s": ("Pa s", 1e-3, 0.0),
    "N": ("N", 1.0, 0.0),
    "kN": ("N", 1e3, 0.0),
    "N/mm": ("N/m", 1e3, 0.0),
    "N·m": ("N m", 1.0, 0.0),
    "s": ("s", 1.0, 0.0),
    "min": ("s", 60.0, 0.0),
    "h": ("s", 3600.0, 0.0),
    "d": ("s", 86400.0, 0.0),
    "kg": ("kg", 1.0, 0.0),
    "g": ("kg", 1e-3, 0.0),
    "g/s": ("kg/s", 1e-3, 0.0),
    "kg/m³": ("kg/m3", 1.0, 0.0),
    "W": ("W", 1.0, 0.0),
    "kW": ("W", 1e3, 0.0),
    "kW/m²": ("W/m2", 1e3, 0.0),
    "W/(m·K)": ("W/(m K)", 1.0, 0.0),
    "W/(m²·K)": ("W/(m2 K)", 1.0, 0.0),
    "cm²·K/W": ("m2 K/W", 1e-4, 0.0),
    "J/(kg·K)": ("J/(kg K)", 1.0, 0.0),
    "kJ/kg": ("J/kg", 1e3, 0.0),
    "kJ/m²": ("J/m2", 1e3, 0.0),
    "10⁻⁶/K": ("1/K", 1e-6, 0.0),
    "1/mm": ("1/m", 1e3, 0.0),
    "m/s": ("m/s", 1.0, 0.0),
    "s/m": ("s/m", 1.0, 0.0),
    "L/min": ("m3/s", 1e-3 / 60.0, 0.0),
    "m³/h": ("m3/s", 1.0 / 3600.0, 0.0),
    "cm³/h": ("m3/s", 1e-6 / 3600.0, 0.0),
    "shots": ("shots", 1.0, 0.0),
    "parts": ("parts", 1.0, 0.0),
    "money": ("money", 1.0, 0.0),
    "money/h": ("money/s", 1.0 / 3600.0, 0.0),
    "money/kg": ("money/kg", 1.0, 0.0),
}

IN_INCHES = {"mm": "in", "mm²": "in²", "cm²": "in²", "cm³": "in³"}


def shown_unit(shown: str, inches: bool = False) -> str:
    """The unit the reader sees: `shown` itself, or its inch counterpart."""
    if shown not in SHOWN:
        raise Refused("unit", f"unit {shown!r} is not one that pages can show.")
    return IN_INCHES.get(shown, shown) if inches else shown


def si_unit(shown: str) -> str:
    """The SI unit behind a shown unit."""
    return SHOWN[shown_unit(shown)][0]


def to_shown(value, shown: str):
    """SI value (float or array) to the shown unit."""
    _, size, zero = SHOWN[shown_unit(shown)]
    return (value - zero) / size


def to_si(value, shown: str):
    """Value (float or array) in the shown unit to SI."""
    _, size, zero = SHOWN[shown_unit(shown)]
    return value * size + zero


NOTHING = 1e-12  # what rounding leaves of a zero, in any unit that pages show


def digits(value: float, significant: int = 3) -> str:
    """A number as people write it: significant digits, no exponent between 0.001 and a million.

    >>> digits(0.012345), digits(1234.5), digits(0.0)
    ('0.0123', '1234', '0')
    """
    if abs(value) < NOTHING:
        return "0"
    size = abs(value)
    if size < 1e-3 or size >= 1e6:
        return f"{value:.{significant - 1}e}"
    before_point = len(f"{size:.0f}") if size >= 1 else 0
    if size >= 1:
        return f"{value:.{max(0, significant - before_point)}f}"
    text = f"{value:.{significant}g}"
    return text


def with_unit(value: float, shown: str, significant: int = 3, inches: bool = False) -> str:
    """SI value as text in the shown unit, with the unit."""
    unit = shown_unit(shown, inches)
    text = digits(float(to_shown(value, unit)), significant)
    return text if unit == "-" else f"{text} {unit}"
