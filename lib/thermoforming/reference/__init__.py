"""Tables of sheets, tool materials, design rules and cautions, each value with its source.

>>> from thermoforming import reference
>>> reference.sheets()["hips"].band("density").typical
1040.0
"""

from thermoforming.reference.material import Curve, Material, sheets, tool_materials
from thermoforming.reference.properties import Property, properties
from thermoforming.reference.rules import Caution, Rule, cautions, cautions_for, rule, rules
from thermoforming.reference.sources import Source, source, sources
from thermoforming.reference.tables import tables_version
from thermoforming.reference.water import water, water_source

__all__ = ["Caution", "Curve", "Material", "Property", "Rule", "Source", "cautions",
           "cautions_for", "properties", "rule", "rules", "sheets", "source", "sources",
           "tables_version", "tool_materials", "water", "water_source"]
