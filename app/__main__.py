"""``python -m app`` is the same as ``stetline``."""

from app.command import main

if __name__ == "__main__":
    raise SystemExit(main())
