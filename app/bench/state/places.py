"""Settings, recent jobs and the drawer: where the system keeps such things, and in which form."""

import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import platformdirs

from app.pages.listing import PageAt
from app.pages.whole import replace_file, telling

APP = "stetline"
MOST_RECENT = 12


@dataclass(frozen=True)
class Places:
    """The folders that are the program's own; ``under`` gives all of them in one, for tests."""

    settings: Path
    state: Path
    drawer: Path

    @classmethod
    def of_the_system(cls) -> "Places":
        """Where this system expects them."""
        return cls(
            Path(platformdirs.user_config_path(APP)) / "settings.json",
            Path(platformdirs.user_state_path(APP)),
            Path(platformdirs.user_data_path(APP)) / "drawer",
        )

    @classmethod
    def under(cls, folder: Path) -> "Places":
        """All in one folder."""
        return cls(folder / "settings.json", folder / "state", folder / "drawer")

    @property
    def press(self) -> Path:
        """The person's own press, read off a test strip."""
        return self.drawer.parent / "my printer.json"

    @property
    def log(self) -> Path:
        """What went wrong in the program itself, with where in it."""
        return self.state / "stetline.log"

    @property
    def mark(self) -> Path:
        """Lies there while the bench is open; left behind only by a crash."""
        return self.state / "open"


@dataclass(frozen=True)
class Settings:
    """What the person has chosen about the window, and not about a job."""

    theme: str = "system"
    width: int = 1280
    height: int = 800
    recent: tuple[str, ...] = ()
    dots_per_mm: float = 0.0
    left: tuple[tuple[str, int], ...] = ()

    def with_left(self, page: PageAt) -> "Settings":
        """The page in hand is this one: one for each folder, the last one first."""
        path = page.path.absolute()
        others = tuple(one for one in self.left if Path(one[0]).parent != path.parent)
        return replace(self, left=((str(path), page.number), *others)[:MOST_RECENT])

    @property
    def pages_left(self) -> tuple[PageAt, ...]:
        """The pages that were left in hand, the last one first."""
        return tuple(PageAt(Path(path), number, number) for path, number in self.left)

    def with_recent(self, path: str) -> "Settings":
        """A folder or file opened last, once, at the head.

        >>> Settings(recent=("a", "b")).with_recent("b").recent
        ('b', 'a')
        """
        others = tuple(other for other in self.recent if other != path)
        return replace(self, recent=(path, *others)[:MOST_RECENT])


def load_settings(path: Path) -> Settings:
    """The settings in a file; what is missing or broken in it is as it was at first."""
    try:
        data = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return Settings()
    if not isinstance(data, dict):
        return Settings()
    first = Settings()
    recent = [one for one in _list(data.get("recent")) if isinstance(one, str)]
    theme = data.get("theme")
    return Settings(
        theme if theme in ("light", "dark") else first.theme,
        _size(data.get("width"), first.width, 800), _size(data.get("height"), first.height, 600),
        tuple(recent[:MOST_RECENT]), _dots(data.get("dots_per_mm")), _left(data.get("left")),
    )


def _list(value: object) -> list[object]:
    return value if isinstance(value, list) else []


def _left(value: object) -> tuple[tuple[str, int], ...]:
    """Files and numbers of pages that were left in hand."""
    found = [tuple(one) for one in _list(value) if isinstance(one, list) and len(one) == 2]
    return tuple((path, number) for path, number in found
                 if isinstance(path, str) and type(number) is int and number > 0)[:MOST_RECENT]


def _dots(value: object) -> float:
    """Screen pixels per millimetre as they were measured; 0 where they were not."""
    return float(value) if isinstance(value, int | float) and 1 <= value <= 40 else 0.0


def _size(value: object, otherwise: int, least: int) -> int:
    return min(max(value, least), 20_000) if type(value) is int else otherwise


def save_settings(path: Path, settings: Settings) -> None:
    """Write them; the file is whole or as it was. Refused where it cannot be written."""
    with telling(path):
        path.parent.mkdir(parents=True, exist_ok=True)
    text = json.dumps(asdict(settings), indent=1) + "\n"
    replace_file(path, text.encode(), durable=False)
