"""Controls made from declared fields: what the reader turns, types, chooses or uploads.

A control holds SI values and shows the reader's units. It accepts a decimal comma, and text that
is no permitted number stays as typed with a message beside it, so that nothing is lost.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as w

from thermoforming.guard import Refused
from thermoforming.steps.base import Choice, Field, File, Flag, Number, Rows, Text
from thermoforming.steps.upstream import Upstream
from thermoforming.units import digits, shown_unit, to_shown, to_si

LABEL = w.Layout(width="150px", flex="0 1 150px", min_width="84px")
GROW = w.Layout(flex="1 1 90px", min_width="70px", width="auto")


def control(field: Field, value, upstream: Upstream, inches: bool,
            keep_file: Callable[[bytes, str], dict]) -> Control:
    """The control for a field, showing a value in SI."""
    kinds = {Number: NumberControl, Choice: ChoiceControl, Flag: FlagControl, Text: TextControl,
             Rows: RowsControl, File: FileControl}
    return kinds[type(field)](field, value, upstream, inches, keep_file)


def read_number(text: str) -> float:
    """A number as people type it: decimal point or comma, spaces between thousands.

    Raises
    ------
    Refused
        If it is not a number.

    >>> read_number("1 250,5")
    1250.5
    """
    plain = text.strip().replace("\u00a0", "").replace(" ", "").replace("−", "-")
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    try:
        number = float(plain)
    except ValueError:
        raise Refused("number", f"“{text}” is not a number.") from None
    if not math.isfinite(number):
        raise Refused("number", f"“{text}” is not a finite number.")
    return number


def read_count(text: str) -> float:
    """A whole number as people type it; a comma before three digits parts thousands.

    Raises
    ------
    Refused
        If it is not a whole number.

    >>> read_count("1,250")
    1250.0
    """
    parted = re.fullmatch(r"\s*\d{1,3}([,.]\d{3})+\s*", text)
    number = read_number(re.sub("[,.]", "", text) if parted else text)
    if number != round(number):
        raise Refused("number", f"“{text}” is not a whole number.")
    return number


class Control:
    """A field on the screen: `widget` to show, `value` in SI, `changed` called after a change."""

    def __init__(self, field: Field, value, upstream: Upstream, inches: bool, keep_file):
        self.field, self.upstream, self.inches, self.keep_file = field, upstream, inches, keep_file
        self.changed: Callable[[], None] = lambda: None
        self.message = w.HTML(layout=w.Layout(margin="0 0 0 0"))
        self.message.layout.display = "none"
        self.widget = self._build(value)

    def _build(self, value) -> w.Widget:
        raise NotImplementedError

    @property
    def value(self):
        raise NotImplementedError

    @value.setter
    def value(self, value):
        raise NotImplementedError

    def complain(self, text: str = "") -> None:
        """Show what is wrong beside the control; nothing clears it."""
        self.message.value = (f'<div class="tf-page tf-message tf-stop">{escape(text)}</div>'
                              if text else "")
        self.message.layout.display = "" if text else "none"

    def _row(self, *widgets) -> w.Widget:
        row = w.HBox([_label(self.field), *widgets])
        row.add_class("tf-row")
        return w.VBox([row, self.message])

    def _quietly(self, change: Callable[[], None]) -> None:
        """Set a widget without telling the page twice."""
        keep, self.changed = self.changed, lambda: None
        try:
            change()
        finally:
            self.changed = keep


class NumberControl(Control):
    """Slider and typed number side by side, with the unit after it."""

    def _build(self, value):
        field = self.field
        self.unit = shown_unit(field.shown, self.inches)
        low, high = (self._from_metric(end) for end in (field.low, field.high))
        self.text = w.Text(continuous_update=False, layout=w.Layout(width="84px", flex="0 0 84px"))
        self.text.description_tooltip = None
        self.slider = self._slider(low, high)
        self._show(value)
        self.text.observe(self._typed, "value")
        self.slider.observe(self._slid, "value")
        unit = "" if self.unit == "-" else self.unit
        return self._row(self.slider, self.text,
                         w.HTML(f'<span class="tf-page">{escape(unit)}</span>',
                                layout=w.Layout(width="58px", flex="0 0 58px")))

    def _from_metric(self, number: float) -> float:
        return to_shown(to_si(number, self.field.shown), self.unit)

    def _slider(self, low: float, high: float) -> w.Widget:
        look = dict(readout=False, layout=GROW, continuous_update=True)
        if low > 0 and high / low > 300 and not self.field.whole:
            self.logarithmic = True
            return w.FloatLogSlider(min=math.log10(low), max=math.log10(high), step=0.01,
                                    value=low, base=10, **look)
        self.logarithmic = False
        step = (self._from_metric(self.field.step) - self._from_metric(0.0)
                if self.field.step else _round_step((high - low) / 200))
        return w.FloatSlider(min=low, max=high, step=1 if self.field.whole else step, value=low,
                             **look)

    def _show(self, value):
        self._si = value
        if value is None:
            self.text.value = ""
            return
        shown = to_shown(value, self.unit)
        self.text.value = str(int(round(shown))) if self.field.whole else f"{shown:.6g}"
        self.slider.value = min(max(shown, 10**self.slider.min if self.logarithmic
                                    else self.slider.min),
                                10**self.slider.max if self.logarithmic else self.slider.max)

    def _typed(self, _):
        if getattr(self, "_busy", False):
            return
        text = self.text.value.strip()
        try:
            if not text and self.field.optional:
                value = None
            else:
                value = self._read(text)
        except Refused as refused:
            self._si = refused
            self.text.add_class("tf-wrong")
            self.complain(str(refused))
        else:
            self._accept(value, from_text=True)
        self.changed()

    def _slid(self, change):
        if getattr(self, "_busy", False) or self._only_notched(change["new"]):
            return
        value = change["new"]
        self._accept(to_si(round(value) if self.field.whole else value, self.unit),
                     from_text=False)
        self.changed()

    def _only_notched(self, new: float) -> bool:
        """Whether the browser only put the slider on the notch nearest to the value held."""
        if self._si is None or isinstance(self._si, Refused):
            return False
        held, half = to_shown(self._si, self.unit), self.slider.step * 0.5 * (1 + 1e-9)
        if self.logarithmic:
            return abs(math.log10(new / held)) <= half
        return abs(new - held) <= half

    def _accept(self, value, from_text: bool):
        self._busy = True
        try:
            self.text.remove_class("tf-wrong")
            self.complain()
            if from_text and value is not None:
                self._si = value
                self.slider.value = to_shown(value, self.unit)
            elif from_text:
                self._si = None
            else:
                self._show(value)
        finally:
            self._busy = False

    def _read(self, text: str):
        """The SI value of what was typed; a refusal speaks in the reader's own unit."""
        try:
            number = read_count(text) if self.field.whole else read_number(text)
        except Refused as refused:
            raise Refused(self.field.key, f"{self.field.label}: {refused} It must be "
                                          f"{self._permitted()}.") from None
        try:
            return self.field.checked(to_si(number, self.unit), self.upstream)
        except Refused:
            raise Refused(self.field.key, f"{self.field.label} is {text}{self._tail}, but it must "
                                          f"be {self._permitted()}.") from None

    @property
    def _tail(self) -> str:
        return "" if self.unit == "-" else f" {self.unit}"

    def _permitted(self) -> str:
        own = self.unit == self.field.shown
        low, high = (f"{end:.7g}{self._tail}" if own else
                     f"{digits(self._from_metric(end))}{self._tail}"
                     for end in (self.field.low, self.field.high))
        return f"at least {low} and at most {high}"

    @property
    def value(self):
        if isinstance(self._si, Refused):
            raise self._si
        return self._si

    @value.setter
    def value(self, value):
        self._busy = True
        try:
            self.complain()
            self.text.remove_class("tf-wrong")
            self._show(value)
        finally:
            self._busy = False


class ChoiceControl(Control):
    """One of several, by its label."""

    def _build(self, value):
        options = [(label, key) for key, label in self.field.choices(self.upstream)]
        known = [key for _, key in options]
        self.box = w.Dropdown(options=options, value=value if value in known else None, layout=GROW)
        self.box.observe(lambda _: self.changed(), "value")
        return self._row(self.box)

    @property
    def value(self):
        return self.box.value

    @value.setter
    def value(self, value):
        self._quietly(lambda: setattr(self.box, "value", value))


class FlagControl(Control):
    """Yes or no."""

    def _build(self, value):
        self.box = w.Checkbox(value=bool(value), indent=False, layout=w.Layout(width="40px"))
        self.box.observe(lambda _: self.changed(), "value")
        return self._row(self.box)

    @property
    def value(self):
        return self.box.value

    @value.setter
    def value(self, value):
        self._quietly(lambda: setattr(self.box, "value", bool(value)))


class TextControl(Control):
    """Words."""

    def _build(self, value):
        kind = w.Textarea if self.field.lines > 1 else w.Text
        extra = {"rows": self.field.lines} if self.field.lines > 1 else {}
        self.box = kind(value=value or "", continuous_update=False, layout=GROW, **extra)
        self.box.observe(lambda _: self.changed(), "value")
        return self._row(self.box)

    @property
    def value(self):
        return self.box.value

    @value.setter
    def value(self, value):
        self._quietly(lambda: setattr(self.box, "value", value or ""))


class RowsControl(Control):
    """A table of typed rows: one small control a cell, rows added and removed."""

    def _build(self, value):
        self.rows: list[dict[str, _Cell]] = []
        self.grid = w.GridBox(layout=w.Layout(overflow="auto", grid_gap="2px 6px"))
        self.add = w.Button(description="Add a row", layout=w.Layout(width="110px"))
        self.add.on_click(lambda _: self._add())
        self._fill(value)
        return w.VBox([_label(self.field, wide=True), self.grid, self.add, self.message])

    def _fill(self, rows):
        self.rows = [self._cells(row) for row in rows or []]
        self._lay_out()

    def _cells(self, row) -> dict[str, _Cell]:
        return {column.key: _Cell(column, row.get(column.key, column.start(self.upstream)), self)
                for column in self.field.columns}

    def _add(self):
        self.rows.append(self._cells(self.field.blank(self.upstream)))
        self._lay_out()
        self.changed()

    def _remove(self, cells):
        self.rows = [row for row in self.rows if row is not cells]
        self._lay_out()
        self.changed()

    def _lay_out(self):
        heads = [w.HTML(f'<div class="tf-page tf-label" title="{escape(c.help)}">{escape(c.label)}'
                        f"<small>{escape(self._unit(c))}</small></div>")
                 for c in self.field.columns] + [w.HTML("")]
        cells = []
        for row in self.rows:
            remove = w.Button(description="✕", tooltip="Remove this row",
                              layout=w.Layout(width="30px"))
            remove.on_click(lambda _, row=row: self._remove(row))
            cells += [*(row[column.key].box for column in self.field.columns), remove]
        self.grid.children = (*heads, *cells)
        widths = ["minmax(110px, 1.6fr)" if isinstance(c, Text) else "minmax(76px, 1fr)"
                  for c in self.field.columns]
        self.grid.layout.grid_template_columns = " ".join([*widths, "32px"])

    def _unit(self, column) -> str:
        if not isinstance(column, Number) or column.shown == "-":
            return ""
        return shown_unit(column.shown, self.inches)

    @property
    def value(self):
        rows = []
        for number, row in enumerate(self.rows, start=1):
            try:
                rows.append({key: cell.value for key, cell in row.items()})
            except Refused as refused:
                raise Refused(self.field.key,
                              f"{self.field.label}, row {number}: {refused}") from None
        return rows

    @value.setter
    def value(self, value):
        self._quietly(lambda: self._fill(value))


class _Cell:
    """One typed value of a row."""

    def __init__(self, column: Field, value, parent: RowsControl):
        self.column, self.parent = column, parent
        wide = w.Layout(width="auto", min_width="0")
        if isinstance(column, Choice):
            options = [(label, key) for key, label in column.choices(parent.upstream)]
            known = [key for _, key in options]
            self.box = w.Dropdown(options=options, value=value if value in known else known[0],
                                  layout=wide)
        elif isinstance(column, Flag):
            self.box = w.Checkbox(value=bool(value), indent=False, layout=wide)
        else:
            self.box = w.Text(value=self._shown(value), continuous_update=False, layout=wide)
        self.given = value, self.box.value  # what was given is held until another is typed
        self.box.observe(self._changed, "value")

    def _shown(self, value) -> str:
        if not isinstance(self.column, Number):
            return value or ""
        if value is None:
            return ""
        return f"{to_shown(value, self._unit):.7g}"

    @property
    def _unit(self) -> str:
        return shown_unit(self.column.shown, self.parent.inches)

    def _changed(self, _):
        try:
            self.value
            self.box.remove_class("tf-wrong")
            self.parent.complain()
        except Refused as refused:
            self.box.add_class("tf-wrong")
            self.parent.complain(str(refused))
        self.parent.changed()

    @property
    def value(self):
        if not isinstance(self.column, Number):
            return self.box.value
        given, shown = self.given
        if self.box.value == shown and given is not None:
            return self.column.checked(given, self.parent.upstream)
        text = self.box.value.strip()
        if not text and self.column.optional:
            return None
        try:
            value = to_si(read_number(text), self._unit)
        except Refused as refused:
            raise Refused(self.column.key, f"{self.column.label}: {refused}") from None
        return self.column.checked(value, self.parent.upstream)


class FileControl(Control):
    """A file, uploaded or named by its path on this computer; kept in the project."""

    def _build(self, value):
        kinds = ",".join(self.field.kinds)
        self.upload = w.FileUpload(accept=kinds, multiple=False, description="Upload",
                                   layout=w.Layout(width="116px"))
        self.path = w.Text(placeholder=f"or its path on this computer ({kinds})",
                           continuous_update=False, layout=GROW)
        self.name = w.HTML()
        self._file = value
        self._show_name()
        self.upload.observe(self._uploaded, "value")
        self.path.observe(self._named, "value")
        return w.VBox([self._row(self.name), w.HBox([self.upload, self.path])])

    def _show_name(self):
        name = self._file["name"] if self._file else "no file yet"
        self.name.value = f'<b class="tf-page">{escape(name)}</b>'

    def _uploaded(self, _):
        if self.upload.value:
            sent = self.upload.value[0]
            self._take(bytes(sent["content"]), sent["name"])

    def _named(self, _):
        text = self.path.value.strip().strip('"')
        if not text:
            return
        path = Path(text).expanduser()
        try:
            size = path.stat().st_size
            if size > self.field.largest:
                raise Refused(self.field.key, f"{path.name} has {size / 1e6:.0f} MB, but at most "
                                              f"{self.field.largest / 1e6:.0f} MB are read.")
            content = path.read_bytes()
        except OSError as problem:
            self.complain(f"{path} cannot be read: {problem.strerror}. Check the path; it is "
                          f"looked for on the computer where the workbook runs.")
            return
        except Refused as refused:
            self.complain(str(refused))
            return
        self._take(content, path.name)

    def _take(self, content: bytes, name: str):
        if self.field.kinds and Path(name).suffix.lower() not in self.field.kinds:
            self.complain(f"{name} ends in “{Path(name).suffix}”, but {self.field.label} takes "
                          f"{', '.join(self.field.kinds)}.")
            return
        self.complain()
        self._file = self.keep_file(content, name)
        self._show_name()
        self.changed()

    @property
    def value(self):
        return self._file

    @value.setter
    def value(self, value):
        self._file = value
        self._show_name()


def _label(field: Field, wide: bool = False) -> w.HTML:
    symbol = _symbol(field.symbol) if isinstance(field, Number) and field.symbol else ""
    title = escape(" · ".join(part for part in (field.help, field.origin) if part))
    small = f"<small>{escape(field.help)}</small>" if wide and field.help else ""
    return w.HTML(f'<div class="tf-page tf-label" title="{title}">{escape(field.label)}{symbol}'
                  f"{small}</div>", layout=w.Layout() if wide else LABEL)


def _symbol(symbol: str) -> str:
    """A symbol such as t_min, set with its index below."""
    name, _, index = symbol.partition("_")
    below = f"<sub>{escape(index.strip('{}'))}</sub>" if index else ""
    return f" <i>{escape(name)}</i>{below}"


def _round_step(width: float) -> float:
    """A step of 1, 2 or 5 times a power of ten, not larger than `width`."""
    power = 10.0 ** math.floor(math.log10(width))
    return next(m * power for m in (5, 2, 1) if m * power <= width * (1 + 1e-9))


def values_of(controls: dict[str, Control]) -> dict[str, Any]:
    """All values, in SI; raises the first refusal."""
    return {key: control.value for key, control in controls.items()}
