"""A saved decision brought back to the screen: computed again, with the simulation it kept."""

from __future__ import annotations

from thermoforming.pages.charts import Scene, drawn
from thermoforming.pages.page import panels_of
from thermoforming.pages.paper import as_svg, shows_something
from thermoforming.pages.session import Session
from thermoforming.record import Revision
from thermoforming.record.export.handout import Figure
from thermoforming.steps import step
from thermoforming.steps.plain import decision_from
from thermoforming.steps.upstream import Upstream, unpacked


def scene_of(session: Session, revision: Revision) -> Scene:
    """What the figures of a saved revision show.

    Raises
    ------
    RecordError, Refused
        If something it stands on is gone, or today's library refuses its inputs.
    """
    project, declared = session.project, step(revision.step)
    decisions = {}
    for key, sha256 in revision.upstream.items():
        if sha256:
            decisions[key] = decision_from(project.revision(key, sha256).content, sha256)
    kept = revision.files.get("simulation")
    upstream = Upstream(decisions, project.file, unpacked(project.file(kept)) if kept else None)
    inputs = declared.checked(decision_from(revision.content).inputs, upstream)
    return Scene(inputs, declared.compute(inputs, upstream), upstream, session.inches)


def drawings(session: Session, revision: Revision) -> tuple[Figure, ...]:
    """Every figure of a saved revision, for print."""
    scene = scene_of(session, revision)
    shown = ((panel, drawn(panel, scene)) for panel in panels_of(revision.step))
    return tuple(Figure(f"{panel.title}. {panel.caption}".strip(), as_svg(figure))
                 for panel, figure in shown if shows_something(figure))
