"""Helper library of an engineering workbook for designing thermoforming tools.

The floors, from the ground up (imports only go down; a test holds that):

foundation   guard, bands, units
reference    tables of materials, rules and cautions with their sources
geometry     meshes: read, check, measure, build (knows no physics)
physics      pure functions in SI on floats and arrays
steps        one module a decision: inputs, results, compute, checks
record       projects, revisions, review, export (knows steps only as data)
pages        widgets and figures made from the steps' own declarations
"""

__version__ = "0.1.0"
