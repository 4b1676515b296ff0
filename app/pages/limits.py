"""Sizes that are refused before any decoder runs."""

from dataclasses import dataclass

from app.pages.refusing import refuse


@dataclass(frozen=True)
class Limits:
    """How large a file may say it is.

    ``pixels`` bounds one page, ``pages`` one file, ``profile_bytes`` an embedded
    colour profile once it is unpacked.
    """

    pixels: int = 600_000_000
    pages: int = 10_000
    profile_bytes: int = 16 << 20

    def check(self, width: int, height: int) -> None:
        """Refuse a page of no size or of an absurd one.

        >>> Limits().check(40_000, 40_000)
        Traceback (most recent call last):
        ...
        core.fault.Refused: it says it is 40000 x 40000 pixels, which is more than 600 million; \
if it truly is, raise the limit with --megapixels 1600.
        """
        if width <= 0 or height <= 0:
            raise refuse(f"it says it is {width} x {height} pixels", "scan or copy it again")
        if width * height > self.pixels:
            need = -(-width * height // 1_000_000)
            raise refuse(
                f"it says it is {width} x {height} pixels,"
                f" which is more than {self.pixels / 1e6:g} million",
                f"if it truly is, raise the limit with --megapixels {need}",
            )
