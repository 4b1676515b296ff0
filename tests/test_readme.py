"""The README's commands are the ones that are run, and its pictures are there."""

import re
import shlex
from pathlib import Path

from app.command import parse

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)


def test_two_commands_stand_alone_in_their_blocks():
    first, second = BLOCKS[:2]
    assert first.count("\n") == second.count("\n") == 1
    assert first.startswith("python3 -m venv .venv && ")
    assert "python3 -m venv .venv && " in second
    assert second.rstrip().endswith("python -m pytest")


def test_every_command_of_the_readme_is_understood():
    said = [line.split("#")[0] for line in "\n".join(BLOCKS[2:]).splitlines() if line.strip()]
    said.append(BLOCKS[0].split("&&")[-1])
    assert len(said) > 3
    for line in said:
        words = shlex.split(line)
        assert words[0].endswith("stetline")
        parse(words[1:])


def test_what_it_points_at_is_there():
    targets = re.findall(r"\]\(([^)#:]+)\)", README)
    assert targets
    assert [target for target in targets if not (ROOT / target).exists()] == []


def test_ci_runs_the_test_command():
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    assert "/^## Test it/" in script
    assert "## Test it\n\n```sh\n" + BLOCKS[1] in README
