"""The review page: what changed, accept or return, release, verify, documents, handing on."""

from thermoforming.pages.review.page import Review, open_review

__all__ = ["Review", "open_review"]
