"""What the palette cannot say: the style sheet, with the theme's colours still to be put in."""

from dataclasses import asdict
from string import Template

from app.bench.state.theme import Theme

_SHEET = Template("""
QMenuBar { background: $desk; color: $ink; padding: 2px 8px; }
QMenuBar::item { padding: 4px 8px; background: transparent; border-radius: 4px; }
QMenuBar::item:selected { background: $card; }
QMenu { background: $field; color: $ink; border: 1px solid $edge; padding: 4px; }
QMenu::item { padding: 5px 24px 5px 24px; border-radius: 4px; }
QMenu::item:selected { background: $accent; color: $on_accent; }
QMenu::item:disabled { color: $edge; background: transparent; }
QMenu::separator { height: 1px; background: $rule; margin: 4px 8px; }
QToolTip { background: $field; color: $ink; border: 1px solid $edge; padding: 4px; }
QSplitter::handle { background: $desk; }
QScrollArea, QListView#bare, QListView#sidebar {
    background: transparent; border: none; }
QScrollBar:vertical { background: transparent; width: 8px; margin: 0; }
QScrollBar::handle:vertical { background: $edge; border-radius: 4px; min-height: 32px; }
QScrollBar::add-line, QScrollBar::sub-line { height: 0; width: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
QToolButton, QPushButton {
    background: transparent; color: $ink; border: 1px solid transparent;
    border-radius: 4px; padding: 4px 8px; }
QPushButton { background: $card; border-color: $edge; padding: 5px 16px; }
QToolButton:hover, QPushButton:hover { background: $field; border-color: $edge; }
QToolButton:focus, QPushButton:focus { border: 2px solid $accent; padding: 3px 7px; }
QPushButton:focus { padding: 4px 15px; }
QToolButton:checked { background: $field; border-color: $edge; }
QFileDialog QToolButton { padding: 0; }
QToolButton::menu-indicator { image: none; width: 0; }
QPushButton:disabled, QToolButton:disabled { color: $edge; }
QPushButton:disabled { border-color: $rule; }
QPushButton#chief {
    background: $accent; color: $on_accent; border-color: $accent; }
QPushButton#chief:focus { border: 2px solid $ink; }
QPushButton#chief:disabled { background: $desk; color: $edge; border-color: $rule; }
QPushButton#tab, QPushButton#tool { padding: 4px 8px; }
QPushButton#tab:checked, QPushButton#tool:checked {
    background: $field; color: $accent; border: 2px solid $accent; padding: 3px 7px; }
QPushButton#tab:focus, QPushButton#tool:focus { border: 2px solid $ink; padding: 3px 7px; }
QLineEdit {
    background: $field; color: $ink; border: 1px solid $edge; border-radius: 4px;
    padding: 2px 6px; selection-background-color: $accent;
    selection-color: $on_accent; }
QLineEdit { placeholder-text-color: $quiet; }
QLineEdit:focus { border: 2px solid $accent; padding: 1px 5px; }
QLineEdit#inline {
    background: transparent; border: none; border-bottom: 1px solid $accent;
    border-radius: 0; padding: 0; color: $accent; }
QLineEdit#inline:hover { background: $field; }
QLineEdit#inline:focus {
    background: $field; border: none; border-bottom: 2px solid $accent; padding: 0; }
QToolButton#inline {
    color: $accent; border: none; border-bottom: 1px solid $accent; border-radius: 0;
    padding: 0; }
QToolButton#inline:hover { background: $field; }
QToolButton#inline:focus {
    background: $field; border: none; border-bottom: 2px solid $accent; padding: 0; }
QLineEdit#title {
    background: transparent; border: 1px solid transparent; font-weight: 600;
    padding: 2px 4px; }
QLineEdit#title:hover { border-color: $edge; }
QLineEdit#title:focus { background: $field; border: 2px solid $accent;
    padding: 1px 3px; }
QLabel#quiet { color: $quiet; }
QLabel#strong { font-weight: 600; }
QFrame#card { background: $card; border: 1px solid $rule; border-radius: 4px; }
QProgressBar {
    background: $field; border: 1px solid $edge; border-radius: 3px; height: 8px;
    text-align: center; color: $ink; }
QProgressBar::chunk { background: $accent; }
QCheckBox, QRadioButton { color: $ink; spacing: 8px; padding: 2px; }
QCheckBox:focus { border: 1px solid $accent; border-radius: 4px; }
""")


def style_sheet(theme: Theme) -> str:
    """The style sheet in a theme's colours."""
    return _SHEET.substitute(asdict(theme))
