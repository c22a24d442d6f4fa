"""Widgets and figures made from the steps' own declarations."""

from thermoforming.pages.page import open_page

__all__ = ["open_page"]
