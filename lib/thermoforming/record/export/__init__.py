"""What leaves the workbook: a document for reviewers, sheets for the shop, numbers for programs.

fingerprint  a hash over everything the document shows, and the short code made from it
forms        the one-page sheets, declared as which value of which decision stands where
dossier      the whole project as plain text in plain data, from which everything is set
formula      formulas as drawings, so that they print the same everywhere
html, pdf    the document and the sheets
numbers      CSV and JSON
handout      all of them together, kept in the project and logged
"""

from thermoforming.record.export.fingerprint import code_of, find, fingerprint
from thermoforming.record.export.forms import Form, Group, Line, Listing
from thermoforming.record.export.handout import Extras, hand_out, rendered

__all__ = ["Extras", "Form", "Group", "Line", "Listing", "code_of", "find", "fingerprint",
           "hand_out", "rendered"]
