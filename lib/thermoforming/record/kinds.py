"""The kinds of record a project keeps, with names for what others need most of them."""

from __future__ import annotations

from thermoforming.record.chain import OWN, Record


class Revision(Record):
    """One saved decision. `content` holds everything; the properties are what others need most."""

    @property
    def step(self) -> str:
        return self.content["step"]

    @property
    def own_content(self) -> dict:
        """What was handed to `save`, without what the record added."""
        return {key: value for key, value in self.content.items() if key not in OWN | {"step"}}

    @property
    def inputs(self) -> dict:
        return self.content.get("inputs", {})

    @property
    def results(self) -> dict:
        return self.content.get("results", {})

    @property
    def checks(self) -> list[dict]:
        return self.content.get("checks", [])

    @property
    def stops(self) -> list[dict]:
        """Checks whose verdict is stop."""
        return [check for check in self.checks if check.get("verdict") == "stop"]

    @property
    def reason(self) -> str:
        return self.content.get("reason", "")

    @property
    def upstream(self) -> dict[str, str | None]:
        """Hash of each upstream revision it stood on; None for a step not yet decided then."""
        return self.content.get("upstream", {})

    @property
    def files(self) -> dict[str, str]:
        """Hash of each input file it stood on, by name."""
        return self.content.get("files", {})

    @property
    def versions(self) -> dict[str, str]:
        return self.content.get("versions", {})


class Review(Record):
    """A reviewer's verdict on one revision, named by its hash."""

    @property
    def revision(self) -> str:
        return self.content["revision"]

    @property
    def verdict(self) -> str:
        return self.content["verdict"]

    @property
    def comment(self) -> str:
        return self.content["comment"]

    @property
    def override(self) -> dict[str, str]:
        """Written reason for each stop that was overridden, by the title of the check."""
        return self.content["override"]


class Release(Record):
    """The revisions and reviews released together."""

    @property
    def decisions(self) -> dict[str, dict]:
        """Number, hash and hash of the accepting review of each step."""
        return self.content["decisions"]
