"""How the book is printed, to be chosen: press, print size, form, trim."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.printing import (
    SIZE_WAYS,
    CutWay,
    cut_of_way,
    cut_way,
    filling,
    size_of_way,
    size_said,
    size_way,
    turned_way,
    with_press,
)
from app.bench.state.sentence import parse_number
from app.bench.views.field import Field
from app.bench.views.look import quiet, strong, tr
from app.pages.trims import By, TrimRule
from app.replay.printing import Printing, trim_named
from core.fault import Refused
from core.press.advice import Advice
from core.press.presses import CAUTION, PRESSES, Press
from core.press.screens import Screen
from core.press.size import TRIMS, PrintSize, Trim
from core.steps.fields import Number, plain

_CUTS: dict[CutWay, str] = {
    "plain": "black from half full on", "screen": "screened", "diffusion": "diffused",
}
_RULES: tuple[tuple[By | None, str], ...] = (
    (None, "not trimmed"), ("borders", "trimmed by panel borders"),
    ("corners", "trimmed by corner marks"), ("sheet", "trimmed by the sheet's edges"),
)
_MARKS = {"good": "", "warn": "! ", "strong": "!! "}


@dataclass(frozen=True)
class OrderShown:
    """How the page in hand is printed, and what is to be said of it.

    ``own_size`` says that its print size is its own. ``mine`` is the press of the person's own,
    where they have read one off a test strip. ``size`` is None until the page is there.
    """

    printing: Printing
    own_size: bool = False
    size: PrintSize | None = None
    advice: tuple[Advice, ...] = ()
    why: str = ""
    trim: str = ""
    mine: Press | None = None


class OrderPanel(QScrollArea):
    """Reports the printing as it is chosen, whether its size is for one page, and commands."""

    changed = Signal(object, bool)
    refused = Signal(str)
    asked = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self._shown = OrderShown(Printing())
        self._filling = False
        self.press = _choices(tr("Press"))
        self.press_said, self.size_said, self.form_said, self.trim_said = (
            quiet("") for _ in range(4))
        self.mine = QPushButton(tr("My printer…"))
        self.mine.setToolTip(tr("Type in what your printer's test strip held"))
        self.mine.clicked.connect(lambda: self.asked.emit("my printer"))
        self.strip = QPushButton(tr("Test strip…"))
        self.strip.setToolTip(tr("Write a strip that shows what a press holds"))
        self.strip.clicked.connect(lambda: self.asked.emit("test strip"))
        self.size_way = _choices(tr("Print size is given in"))
        self.length = _field(tr("Print size"))
        self.trim_names = _choices(tr("Fill a trim"))
        self.own = QCheckBox(tr("for this page only"))
        self.form = _choices(tr("Form"))
        self.ppi, self.ruling = _field(tr("Pixels per inch")), _field(tr("Lines per inch"))
        self.cut = _choices(tr("How black and white are told apart"))
        self.rule, self.trim_size = _choices(tr("Trim")), _choices(tr("Size of the trimmed page"))
        self.trim_size.setEditable(True)
        self.trim_size.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.across, self.down = _field(tr("Trim moved right")), _field(tr("Trim moved down"))
        self.mirrored = QCheckBox(tr("left pages mirrored"))
        self.own.setToolTip(tr("The other pages keep the size of the book"))
        self.mirrored.setToolTip(tr("On every second page the trim is moved the other way"))
        self.bleed = _field(tr("Bleed"))
        self._fill()
        self._lay_out()
        self._listen()
        self.show_order(self._shown)

    def _fill(self) -> None:
        for way, words, _ in SIZE_WAYS:
            self.size_way.addItem(tr(words), way)
        self.trim_names.addItem(tr("fill a trim…"), "")
        self.trim_size.addItem(tr("as large as found"), "")
        for name, trim in TRIMS.items():
            words = f"{name}, {trim.width:.4g} x {trim.height:.4g} mm"
            self.trim_names.addItem(words, name)
            self.trim_size.addItem(words, name)
        self.form.addItem(tr("graded grey"), "grey")
        self.form.addItem(tr("1-bit, black and white alone"), "1-bit")
        for cut, words in _CUTS.items():
            self.cut.addItem(tr(words), cut)
        for rule, words in _RULES:
            self.rule.addItem(tr(words), rule or "")

    def _lay_out(self) -> None:
        sheet = QWidget()
        column = QVBoxLayout(sheet)
        column.setContentsMargins(0, 4, 4, 4)
        column.setSpacing(6)
        for title, rows in (
            (tr("Press"), ((self.press,), (self.press_said,), (self.mine, self.strip, None))),
            (tr("Print size"), ((self.length, self.size_way), (self.trim_names,), (self.own,),
                                (self.size_said,))),
            (tr("Form"), ((self.form,), (self.ppi, tr("ppi"), self.cut),
                          (self.ruling, tr("lines to the inch"), None),
                          (self.form_said,))),
            (tr("Trim"), ((self.rule,), (self.trim_size,),
                          (self.across, tr("mm right"), self.down, tr("mm down"), None),
                          (self.bleed, tr("mm bleed"), self.mirrored, None), (self.trim_said,))),
        ):
            column.addWidget(strong(title))
            for row in rows:
                if isinstance(row[0], QLabel):  # in a row of its own its height would be lost
                    column.addWidget(row[0])
                else:
                    column.addWidget(_row(row))
            column.addSpacing(6)
        column.addStretch(1)
        self.setWidget(sheet)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.viewport().setAutoFillBackground(False)
        sheet.setAutoFillBackground(False)

    def _listen(self) -> None:
        chosen: tuple[tuple[QComboBox, Callable[[], None]], ...] = (
            (self.press, self._take_press), (self.size_way, self._take_way),
            (self.trim_names, self._take_filling), (self.form, self._take_form),
            (self.cut, self._take_cut), (self.rule, self._take_trim),
            (self.trim_size, self._take_trim_size),
        )
        for box, take in chosen:
            box.activated.connect(lambda _, take=take: self._trying(take))
        typed: tuple[tuple[QLineEdit, Callable[[], None]], ...] = (
            (self.length, self._take_size), (self.ppi, self._take_form),
            (self.ruling, self._take_cut), (self.across, self._take_trim),
            (self.down, self._take_trim), (self._size_typed(), self._take_trim_size),
            (self.bleed, self._take_bleed),
        )
        for field, take in typed:
            field.editingFinished.connect(lambda field=field, take=take: self._typed(field, take))
        self.own.toggled.connect(lambda _: self._trying(self._take_size))
        self.mirrored.toggled.connect(lambda _: self._trying(self._take_trim))

    def _size_typed(self) -> QLineEdit:
        field = self.trim_size.lineEdit()
        assert field is not None
        return field

    def _typed(self, field: QLineEdit, take: Callable[[], None]) -> None:
        """Something was typed; what is no number there goes again."""
        if field.isModified():
            field.setModified(False)
            self._trying(take)
            self.show_order(self._shown)

    def _trying(self, take: Callable[[], None]) -> None:
        if self._filling:
            return
        try:
            take()
        except Refused as refused:
            self.refused.emit(str(refused))
            self.show_order(self._shown)

    # --- showing

    def show_order(self, shown: OrderShown) -> None:
        """Show how the page is printed."""
        self._shown, self._filling = shown, True
        printing = shown.printing
        self._show_press(printing, shown.mine)
        way, value = size_way(printing.size)
        self.size_way.setCurrentIndex(self.size_way.findData(way))
        _set(self.length, plain(value))
        self.trim_names.setCurrentIndex(0)
        self.trim_names.setEnabled(shown.size is not None)
        self.own.setChecked(shown.own_size)
        self._show_form(printing)
        self._show_trim(printing)
        said = [] if shown.size is None else [f"{size_said(shown.size)}."]
        said += [_sentence(advice) for advice in shown.advice]
        self.size_said.setText("\n".join(said))
        self.form_said.setText(shown.why)
        self.trim_said.setText(shown.trim)
        for label in (self.size_said, self.form_said, self.trim_said):
            label.setVisible(bool(label.text()))
        self._filling = False

    def _show_press(self, printing: Printing, mine: Press | None) -> None:
        names = [*PRESSES, *([mine.name] if mine is not None else [])]
        if [self.press.itemData(n) for n in range(self.press.count())] != names:
            self.press.clear()
            for name in names:
                self.press.addItem(tr(name), name)
        press = printing.in_hand
        if self.press.findData(press.name) < 0:  # of a job that came from another desk
            self.press.addItem(press.name, press.name)
        self.press.setCurrentIndex(self.press.findData(press.name))
        self.press_said.setText(f"{CAUTION}\n{press.sentence()}\n{press.source}")

    def _show_form(self, printing: Printing) -> None:
        bits = printing.form == "1-bit"
        self.form.setCurrentIndex(self.form.findData(printing.form))
        _set(self.ppi, plain(printing.ppi))
        self.cut.setCurrentIndex(self.cut.findData(cut_way(printing.cut)))
        screened = isinstance(printing.cut, Screen)
        _set(self.ruling, plain(printing.cut.ruling) if isinstance(printing.cut, Screen) else "")
        _parent(self.ppi).setVisible(bits)
        _parent(self.ruling).setVisible(bits and screened)

    def _show_trim(self, printing: Printing) -> None:
        rule = printing.trim or TrimRule()
        self.rule.setCurrentIndex(self.rule.findData(printing.trim.by if printing.trim else ""))
        names = [name for name, trim in TRIMS.items()
                 if (trim.width, trim.height) == (rule.width, rule.height)]
        if rule.width is not None and rule.height is not None and not names:
            self.trim_size.setCurrentIndex(-1)
            self.trim_size.setEditText(f"{rule.width:.4g}x{rule.height:.4g}mm")
        else:
            self.trim_size.setCurrentIndex(self.trim_size.findData(names[0] if names else ""))
        _set(self.across, plain(rule.nudge[0]))
        _set(self.down, plain(rule.nudge[1]))
        self.mirrored.setChecked(rule.mirrored)
        _set(self.bleed, plain(printing.bleed))
        for widget in (self.trim_size, self.across, self.bleed):
            _parent(widget).setVisible(printing.trim is not None)

    # --- reporting

    def _report(self, printing: Printing) -> None:
        own = self.own.isChecked()
        if printing != self._shown.printing or own != self._shown.own_size:
            self.changed.emit(printing, own)

    def _number(self, field: QLineEdit, spec: Number, otherwise: float) -> float:
        found = parse_number(field.text(), spec)
        return otherwise if found is None else found

    def _take_press(self) -> None:
        self._report(with_press(
            self._shown.printing, self.press.currentData(), self._shown.mine))

    def _take_way(self) -> None:
        printing = self._shown.printing
        self._report(replace(printing, size=turned_way(
            printing.size, self.size_way.currentData(), self._shown.size)))

    def _take_size(self) -> None:
        printing = self._shown.printing
        way, value = size_way(printing.size)
        [spec] = [number for name, _, number in SIZE_WAYS if name == way]
        self._report(replace(printing, size=size_of_way(
            way, self._number(self.length, spec, value))))

    def _take_filling(self) -> None:
        name, size = self.trim_names.currentData(), self._shown.size
        if name and size is not None:
            self._report(replace(self._shown.printing, size=filling(name, size.shape, size.ppi)))

    def _take_form(self) -> None:
        printing = self._shown.printing
        ppi = self._number(self.ppi, Number("ppi", "ppi", 50, 5080), printing.ppi)
        self._report(replace(printing, form=self.form.currentData(), ppi=ppi))

    def _take_cut(self) -> None:
        printing = self._shown.printing
        way = self.cut.currentData()
        cut = printing.cut if way == cut_way(printing.cut) else cut_of_way(way, printing.ppi)
        if isinstance(cut, Screen):
            ruling = self._number(self.ruling, Number("ruling", "", 1, 1000), cut.ruling)
            cut = replace(cut, ruling=ruling)
        self._report(replace(printing, cut=cut))

    def _take_trim(self) -> None:
        printing = self._shown.printing
        by = self.rule.currentData()
        if not by:
            self._report(replace(printing, trim=None))
            return
        rule, move = printing.trim or TrimRule(), Number("nudge", "mm", -500, 500)
        rule = replace(rule, by=by, mirrored=self.mirrored.isChecked(), nudge=(
            self._number(self.across, move, rule.nudge[0]),
            self._number(self.down, move, rule.nudge[1])))
        self._report(replace(printing, trim=rule))

    def _take_trim_size(self) -> None:
        printing, trim = self._shown.printing, self._trim_asked()
        rule = printing.trim or TrimRule()
        if trim is None:
            self._report(replace(printing, trim=replace(rule, width=None, height=None)))
        elif (rule.width, rule.height) != (trim.width, trim.height):
            rule = replace(rule, width=trim.width, height=trim.height)
            self._report(replace(printing, trim=rule, bleed=trim.bleed))

    def _trim_asked(self) -> Trim | None:
        """The trim that was chosen or typed; None is as large as found."""
        text = self.trim_size.currentText().strip()
        index = self.trim_size.findText(text)
        name = self.trim_size.itemData(index) if index >= 0 else text
        return trim_named(name) if name else None

    def _take_bleed(self) -> None:
        printing = self._shown.printing
        self._report(replace(printing, bleed=self._number(
            self.bleed, Number("bleed", "mm", 0, 50), printing.bleed)))


def _sentence(advice: Advice) -> str:
    return f"{_MARKS[advice.grade]}{advice.said[:1].upper()}{advice.said[1:]}."


def _choices(name: str) -> QComboBox:
    box = QComboBox()
    box.setAccessibleName(name)
    box.setToolTip(name)
    box.setMinimumContentsLength(6)
    box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    return box


def _field(name: str) -> QLineEdit:
    field = Field()
    field.setAccessibleName(name)
    field.setToolTip(name)
    field.setFixedWidth(64)
    return field


def _parent(widget: QWidget) -> QWidget:
    """The row in which a widget lies."""
    row = widget.parentWidget()
    assert row is not None
    return row


def _set(field: QLineEdit, text: str) -> None:
    """What a field shows, unless somebody is typing there."""
    if not (field.hasFocus() and field.isModified()):
        field.setText(text)


def _row(parts: tuple[QWidget | str | None, ...]) -> QWidget:
    """Widgets and words side by side; None takes what room is left."""
    holder = QWidget()
    row = QHBoxLayout(holder)
    row.setContentsMargins(0, 0, 0, 0)
    row.setSpacing(6)
    for part in parts:
        if part is None:
            row.addStretch(1)
        else:
            row.addWidget(QLabel(part) if isinstance(part, str) else part)
    return holder
