"""Small sheets that come up over the bench: export, what it asks and tells, and the keys."""

from contextlib import suppress
from pathlib import Path

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QRadioButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.bench.state.commands import MENUS, in_menu
from app.bench.state.exporting import FORMS, Export, Form
from app.bench.views.look import on_screen, quiet, strong, tr
from app.pages.renditions import Rendition


class ExportDialog(QDialog):
    """Asks what is written, of which pages and where; reports the answer.

    ``renditions`` are what the job was written as last: their forms are chosen at first.
    """

    asked = Signal(object)

    def __init__(
        self, choices: tuple[tuple[str, tuple[int, ...]], ...], folder: Path, parent: QWidget,
        renditions: tuple[Rendition, ...] = (),
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Export"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._choices = choices
        self.whose = [QRadioButton(text) for text, _ in choices]
        self.forms = [QCheckBox(tr(form.text)) for form in FORMS]
        self.folder = QLineEdit(str(folder))
        self.folder.setAccessibleName(tr("Folder"))
        self.folder.setMinimumWidth(360)
        self.folder.setToolTip(tr("Where the files are written; it is made if it is not there"))
        self.go = QPushButton(tr("Export"))
        self.go.setToolTip(tr("Write the pages in these forms; the scans stay as they are"))
        self._lay_out()
        last = [box for box, form in zip(self.forms, FORMS, strict=True)
                if form.rendition in renditions]
        for box in last or self.forms[:1]:
            box.setChecked(True)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 16)
        column.setSpacing(8)
        column.addWidget(strong(tr("Which pages")))
        for radio in self.whose:
            radio.setToolTip(tr("Write these pages, each with its own list"))
            column.addWidget(radio)
        self.whose[0].setChecked(True)
        column.addSpacing(8)
        column.addWidget(strong(tr("In which form")))
        forms = QGridLayout()
        forms.setHorizontalSpacing(32)
        forms.setVerticalSpacing(4)
        half = len(FORMS) // 2  # lines and what goes to the printer, then layers, flats, the web
        for number, (box, form) in enumerate(zip(self.forms, FORMS, strict=True)):
            box.setToolTip(tr(form.tip))
            box.toggled.connect(lambda on, form=form: self._choose_form(form, on=on))
            left = number < half
            forms.addWidget(box, number if left else number - half, 0 if left else 1)
        column.addLayout(forms)
        column.addSpacing(8)
        column.addWidget(strong(tr("Into which folder")))
        row = QHBoxLayout()
        choose = QPushButton(tr("Choose…"))
        choose.setToolTip(tr("Look for the folder"))
        choose.clicked.connect(self._choose)
        self.folder.textChanged.connect(self._check)
        row.addWidget(self.folder, 1)
        row.addWidget(choose)
        column.addLayout(row)
        note = QLabel(tr("Scans are never written to; an output is whole or it is not there."))
        note.setObjectName("quiet")
        column.addWidget(note)
        column.addSpacing(8)
        column.addLayout(self._buttons())

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        cancel = QPushButton(tr("Cancel"))
        cancel.setToolTip(tr("Write nothing"))
        cancel.clicked.connect(self.reject)
        self.go.setObjectName("chief")
        self.go.setDefault(True)
        self.go.clicked.connect(self._go)
        row.addStretch(1)
        row.addWidget(cancel)
        row.addWidget(self.go)
        return row

    def _choose_form(self, chosen: Form, *, on: bool) -> None:
        """Of the forms that would be written to one name, the last chosen is written."""
        for box, form in zip(self.forms, FORMS, strict=True):
            if on and form is not chosen and form.rendition.suffix == chosen.rendition.suffix:
                box.setChecked(False)
        self._check()

    def _check(self) -> None:
        some = any(box.isChecked() for box in self.forms)
        self.go.setEnabled(some and bool(self.folder.text().strip()))

    def _choose(self) -> None:
        found = QFileDialog.getExistingDirectory(self, tr("Into which folder"), self.folder.text())
        if found:
            self.folder.setText(found)

    def _go(self) -> None:
        pages = next(
            numbers for radio, (_, numbers) in zip(self.whose, self._choices, strict=True)
            if radio.isChecked()
        )
        renditions = tuple(
            form.rendition for box, form in zip(self.forms, FORMS, strict=True) if box.isChecked()
        )
        folder = Path(self.folder.text().strip())
        with suppress(RuntimeError):  # nobody is called so
            folder = folder.expanduser()
        self.asked.emit(Export(pages, renditions, folder.absolute()))
        self.accept()


class TakenDialog(QDialog):
    """Asks whether files that no export left as they are may be replaced; reports the answer.

    Closed without an answer it is rejected, and nothing is to be written.
    """

    answered = Signal(bool)

    def __init__(self, taken: tuple[Path, ...], folder: Path, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Export"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.over = QPushButton(tr("Write over them"))
        self.over.setToolTip(tr("Put what is exported now in their place"))
        self.leave = QPushButton(tr("Leave them"))
        self.leave.setToolTip(tr("Export the other pages; these files stay as they are"))
        names = [path.name for path in taken[:_NAMED]]
        if len(taken) > _NAMED:
            names.append(f"{tr('and')} {len(taken) - _NAMED} {tr('more')}")
        self.names = QLabel("\n".join(names))
        self.names.setTextFormat(Qt.TextFormat.PlainText)
        self._lay_out(len(taken), folder)

    def _lay_out(self, count: int, folder: Path) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 16)
        column.setSpacing(8)
        column.addWidget(strong(f"{tr('Files in the way')}: {count}"))
        why = quiet(f"{tr('Stetline did not write them there, or they were changed since.')}"
                     f"\n{folder}")
        why.setTextFormat(Qt.TextFormat.PlainText)
        why.setMinimumWidth(400)
        column.addWidget(why)
        column.addWidget(self.names)
        column.addSpacing(8)
        row = QHBoxLayout()
        cancel = QPushButton(tr("Cancel"))
        cancel.setToolTip(tr("Write nothing"))
        cancel.clicked.connect(self.reject)
        self.over.clicked.connect(lambda: self._answer(over=True))
        self.leave.setObjectName("chief")
        self.leave.setDefault(True)
        self.leave.clicked.connect(lambda: self._answer(over=False))
        row.addStretch(1)
        for button in (cancel, self.over, self.leave):
            row.addWidget(button)
        column.addLayout(row)

    def _answer(self, *, over: bool) -> None:
        self.answered.emit(over)
        self.accept()


_NAMED = 3  # files in the way that are named; the others are counted


class KeysSheet(QDialog):
    """Every command with its keys, from the same table as the menus."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("Keys"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.resize(on_screen(self, QSize(880, 600)))
        sheet = QWidget()
        grid = QGridLayout(sheet)
        grid.setContentsMargins(24, 16, 24, 24)
        grid.setHorizontalSpacing(24)
        grid.setColumnStretch(2, 1)
        row = 0
        for menu in MENUS:
            row = _section(grid, row, tr(menu).replace("&", ""))
            for command in in_menu(menu):
                grid.addWidget(QLabel(tr(command.text).replace("&", "")), row, 0)
                keys = "  ".join(
                    QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText)
                    for key in command.keys
                )
                grid.addWidget(strong(keys), row, 1)
                grid.addWidget(quiet(tr(command.tip)), row, 2)
                row += 1
        row = _section(grid, row, tr("On the page and in the panels"))
        for keys, tip in _HAND:
            grid.addWidget(strong(tr(keys)), row, 1)
            grid.addWidget(quiet(tr(tip)), row, 2)
            row += 1
        area = QScrollArea()
        area.setWidget(sheet)
        area.setWidgetResizable(True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(area)


_HAND = (
    ("Arrows", "On a handle of the tone strip: nudge it by one, with Shift by ten; Home resets."),
    ("Up, Down", "On a number in a sentence or beneath the strip: nudge it, with Shift by ten."),
    ("Wheel", "On the page: go nearer or step back, about the pointer."),
    ("Space, drag", "Push the page, also over the divider."),
    ("C, held", "Show what the points cut off: full ink, bare ground, and stripes for the rest."),
    ("Esc", "On the page: let go of the chosen step, its outline or the picker."),
    ("A list's own key", "Give the page that list of the drawer; the keys are chosen in Drawer…"),
    ("Ctrl+Arrows", "On the page: move the divider."),
    ("Arrows, Return", "On the page, with a tool in hand: move the pointer, press and let go."),
    ("E, arrows", "On the page, with a crop chosen: take the next edge in hand, and move it."),
    ("Arrows", "On the page, with a straightening chosen: turn by 0.05 degrees; Shift, by 0.5."),
    ("Arrows", "With the glass on the page: move it, with Shift by a pixel; Esc takes it up."),
    ("+ and -", "With the glass on the page: 4, 8 or 12 times, as the wheel does."),
    ("Arrows", "With the trim shown: move it by half a millimetre of the print."),
    ("L, held", "Show the lines without the flats."),
    ("K, held", "Show the flats without the lines."),
    ("1 to 9", "While the page is coloured: choose a colour of the palette."),
    (". and ,", "While the page is coloured: go to the next smaller or larger area."),
    ("Delete", "While areas are filled, joined or cut: the one under the pointer is white again."),
    ("Arrows, Return", "While the page is coloured: move the pointer; click, or draw and end."),
    ("Esc", "In the colour panel: back to the page."),
    ("Alt+Up, Alt+Down", "On a colour of the palette: put it elsewhere. Return names it."),
)


def _section(grid: QGridLayout, row: int, title: str) -> int:
    """A heading above the next rows, and the first of these."""
    head = strong(title)
    head.setContentsMargins(0, 12 if row else 0, 0, 0)
    grid.addWidget(head, row, 0, 1, 3)
    return row + 1
