"""The record: projects as folders of plain files, each written once and named by its hash.

files       the only place that touches the disk: all or nothing, flushed, exclusive
spelling    one spelling for a record (canonical JSON, RFC 8785) and its SHA-256
schema      which layouts can be read; older ones are migrated, newer ones refused
chain       a folder of numbered records, each naming the hash of the one before
inputs      files the decisions stand on, under the hash of their content
rules       who may save, review and accept what
store       Project: settings, inputs, revisions, reviews, trials, releases
check       every hash and every link between records verified, in sentences
standing    missing, damaged, stale, returned, accepted or current, with reasons
difference  what differs between two pieces of plain data, by key
changes     what changed between two decisions, as an engineer reads it
verify      every decision recomputed: same, moved (by how much) or cannot
handover    comparing projects and releases, starting a project from an old one
pack        a project as one zip file, out and in
shelf       all projects of a folder, and who waits for whom

>>> project = Project.create(folder, "Instrument tray", author="A. Maker")      # doctest: +SKIP
>>> part = project.add_file(data, "tray.stl")                                   # doctest: +SKIP
>>> first = project.save("brief", content, "A. Maker", expected_previous=None)  # doctest: +SKIP
>>> project.review("brief", first.sha256, "B. Reader", "accepted", "Checked.")  # doctest: +SKIP
>>> project.state("brief").state                                                # doctest: +SKIP
'accepted'
"""

from thermoforming.record.check import check
from thermoforming.record.difference import Difference, differences
from thermoforming.record.errors import (
    Damaged,
    NewerSchema,
    NotSaved,
    RecordError,
    SomeoneSavedFirst,
)
from thermoforming.record.kinds import Release, Review, Revision
from thermoforming.record.standing import Standing
from thermoforming.record.store import Project

__all__ = ["Damaged", "Difference", "NewerSchema", "NotSaved", "Project", "RecordError", "Release",
           "Review", "Revision", "SomeoneSavedFirst", "Standing", "check", "differences"]
