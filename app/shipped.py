"""Where the icons and the sample pages lie: beside the code, or inside the installed package."""

from pathlib import Path


def shipped(folder: str) -> Path:
    """The folder ``icons`` or ``sample_pages``, in a checkout and in an installed wheel alike.

    >>> shipped("sample_pages").is_dir()
    True
    """
    here = Path(__file__).resolve().parent
    for place in (here / "_shipped" / folder, here.parent / folder):
        if place.is_dir():
            return place
    raise FileNotFoundError(folder)
