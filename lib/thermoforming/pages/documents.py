"""What the documents hold beyond the record: figures, cautions, citations, the shop's sheets."""

from __future__ import annotations

from thermoforming.pages.saved import drawings
from thermoforming.pages.session import Session
from thermoforming.record import RecordError
from thermoforming.record.export import Extras
from thermoforming.reference import cautions
from thermoforming.reference.sources import sources
from thermoforming.steps import ORDER, step

DISCLAIMERS = (
    "The numbers are predictions with their bands, made to be checked by a first trial. Local "
    "codes and the judgement of licensed people come before this document.",)


def titles() -> dict[str, str]:
    """Title of each step, in the order of the thread."""
    return {key: step(key).title for key in ORDER}


def extras(session: Session) -> Extras:
    """Everything the record cannot know by itself, for the decisions in force."""
    from thermoforming.pages.forms import FORMS, TABLES

    decided = {key: revision for key in ORDER if (revision := session.project.latest(key))}
    return Extras(
        figures={key: _figures(session, revision) for key, revision in decided.items()},
        cautions={key: _cautions(key) for key in decided},
        sources={key: source.citation for key, source in sources().items()},
        forms=FORMS, tables=TABLES, disclaimers=DISCLAIMERS)


def _figures(session: Session, revision):
    try:
        return drawings(session, revision)
    except (RecordError, ValueError, KeyError):
        return ()  # an old revision that today's library cannot show; its numbers are all there


def _cautions(key: str) -> tuple[str, ...]:
    return tuple(f"{caution.text} ({caution.source.citation}; {caution.basis})"
                 for topic in step(key).cautions for caution in cautions(topic))
