"""What was done is known again: after a stop, a kill, a torn line, a changed file."""

import io
import json
import os
import signal
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from app.kinds import KINDS
from app.pages.lists import write_list
from app.pages.renditions import Print
from app.replay.book import plan_job
from app.replay.forecast import forecast
from app.replay.job import Job, JobPage
from app.replay.journal import FOLDER, Journal
from app.replay.printing import Printing, Wide
from app.replay.run import run
from core.fault import Refused
from core.steps.steplist import StepList
from core.tone import apply_table, tone_table
from tests.replay.conftest import FORMS, STEPS, contents, draw, draw_book, outcomes, planned

ROOT = Path(__file__).parents[2]
DEADLINE = 60  # seconds until a test that waits for another process gives up


def do(plans, out, crew, **how):
    """Run with a journal; gives how each page ended in a word."""
    with Journal(out) as journal:
        return [end.status for end in outcomes(run(plans, crew, journal=journal, **how))]


def journal_of(out: Path) -> Path:
    return out / FOLDER / "journal.jsonl"


def test_only_what_changed_is_done_again(book, tmp_path, crew):
    out = tmp_path / "out"
    plans = planned(book, out)
    assert do(plans, out, crew) == ["done"] * 4
    before = contents(out)
    assert do(plans, out, crew) == ["unchanged"] * 4
    draw(book / "page 2.tif", 77)  # another scan
    (out / "page 3-line.png").unlink()  # an output that is gone
    assert do(planned(book, out), out, crew) == ["unchanged", "done", "done", "unchanged"]
    after = contents(out)
    assert after["page 3-line.png"] == before["page 3-line.png"]
    assert after["page 2-line.png"] != before["page 2-line.png"]
    assert do(plans, out, crew, again=True) == ["done"] * 4
    other = StepList("other", STEPS.steps[:1])
    assert do(planned(book, out, other), out, crew) == ["done"] * 4
    assert contents(out).keys() == before.keys()


def test_check_sees_a_change_that_size_and_time_hide(book, tmp_path, crew):
    out, scan = tmp_path / "out", book / "page 1.tif"
    plans = planned(book, out)[:1]
    do(plans, out, crew)
    was, data = scan.stat(), bytearray(scan.read_bytes())
    data[len(data) // 2] ^= 1
    scan.write_bytes(data)
    os.utime(scan, ns=(was.st_atime_ns, was.st_mtime_ns))
    with Journal(out) as journal:
        assert journal.is_done(plans[0])
        assert not journal.is_done(plans[0], check=True)


def test_a_file_that_is_not_the_journals_is_never_written_over(book, tmp_path, crew):
    out = tmp_path / "out"
    out.mkdir()
    (out / "page 2-line.png").write_bytes(b"someone else's")
    plans = planned(book, out)
    assert do(plans, out, crew) == ["done", "failed", "done", "done"]
    (out / "page 3-line.png").write_bytes(b"retouched")
    other = planned(book, out, StepList("other", STEPS.steps[:1]))
    with Journal(out) as journal:
        ends = outcomes(run(other, crew, journal=journal))
        ahead = forecast(other, crew, journal)
    assert [end.status for end in ends] == ["done", "failed", "failed", "done"]
    assert [page.state for page in ahead.pages] == ["unchanged", "failed", "failed", "unchanged"]
    assert str(ends[1].faults[0]) == (
        "page 2.tif: page 2-line.png is there already, not written by a run into this folder, "
        "and would be written over; --again writes over it; or move it away, or write into "
        "another folder.")
    assert "was changed since it was written" in str(ends[2].faults[0])
    assert (out / "page 2-line.png").read_bytes() == b"someone else's"
    assert (out / "page 3-line.png").read_bytes() == b"retouched"
    assert do(other, out, crew, again=True) == ["done"] * 4
    assert do(plans, out, crew) == ["done"] * 4, "they are the journal's by now"


def test_what_another_scan_of_one_name_became_is_not_written_over(book, tmp_path, crew):
    out, second = tmp_path / "out", tmp_path / "second"
    second.mkdir()
    scan = draw(second / "page 2.tif", 9)
    assert do(planned(book, out), out, crew) == ["done"] * 4
    was = (out / "page 2-line.png").read_bytes()
    plans = planned(second, out)
    with Journal(out) as journal:
        (end,) = outcomes(run(plans, crew, journal=journal))
        (ahead,) = forecast(plans, crew, journal).pages
    assert end.faults == ahead.faults
    assert str(end.faults[0]).startswith(
        "page 2.tif: page 2-line.png is what ../scans/page 2.tif became, and would be written "
        "over; --again")
    assert (out / "page 2-line.png").read_bytes() == was
    # together they have names of their own; by itself it may take the place of one that is gone
    pages = tuple(map(JobPage, (*book.iterdir(), scan)))
    both = plan_job(Job(pages, (STEPS,), FORMS, out), KINDS)
    assert "failed" not in do(both, out, crew)
    (book / "page 2.tif").unlink()
    assert do(plans, out, crew) == ["done"]
    assert (out / "page 2-line.png").read_bytes() != was


def test_outputs_that_were_copied_or_are_of_an_earlier_rendition_stay_the_journals(
    book, tmp_path, crew,
):
    out = tmp_path / "out"
    line, web = FORMS
    do(planned(book, out, forms=[line]), out, crew)
    do(planned(book, out, forms=[web]), out, crew)
    for path in out.glob("*.png"):
        os.utime(path, ns=(1, 1))
    other = StepList("other", STEPS.steps[:1])
    assert do(planned(book, out, other, forms=[line]), out, crew) == ["done"] * 4


def test_what_a_killed_run_wrote_and_did_not_note_is_known(book, tmp_path, crew):
    out = tmp_path / "out"
    plans = planned(book, out)
    (out / FOLDER).mkdir(parents=True)
    with Journal(out) as journal:
        journal.intend(plans)
    for output in [path for plan in plans[:2] for _, path in plan.outputs]:
        output.write_bytes(b"what a run wrote")
    assert do(plans, out, crew) == ["done"] * 4


def test_what_a_stopped_run_wrote_may_not_be_retouched_unseen(book, tmp_path, crew):
    out = tmp_path / "out"
    plans = planned(book, out)
    with Journal(out) as journal:
        journal.intend(plans)
        for output in [path for plan in plans[:2] for _, path in plan.outputs]:
            output.write_bytes(b"what a run wrote")
        journal.settle()
    (out / "page 2-line.png").write_bytes(b"retouched")
    (out / "page 3-line.png").write_bytes(b"foreign")
    assert do(plans, out, crew) == ["done", "failed", "failed", "done"]


def test_the_print_decides_what_is_written(book, tmp_path, crew):
    out = tmp_path / "out"
    plans = planned(book, out, forms=[Print()])[:1]
    wide = [replace(plans[0], printing=Printing(size=Wide(60)))]
    assert do(plans, out, crew) == ["done"]
    assert do(wide, out, crew) == ["done"]
    with Image.open(out / "page 1-print.tif") as picture:
        assert float(picture.info["dpi"][0]) == pytest.approx(300 * 25.4 / 60, rel=1e-3)
    with Journal(out) as journal:
        line = planned(book, out)[0]
        assert journal.digest(line) == journal.digest(replace(line, printing=wide[0].printing))


def test_the_journal_tells_how_a_page_was_made(book, tmp_path, crew):
    out = tmp_path / "out"
    plans = planned(book, out)
    with Journal(out) as journal:
        journal.begin({"list": "pen"})
        outcomes(run(plans[:1], crew, journal=journal))
        record = journal.record(plans[0].page)
    assert record["page"] == "../scans/page 1.tif"
    assert record["settled"]["steps"][0] | {"on": True} == record["settled"]["steps"][0]
    assert {step["kind"]: step["edition"] for step in record["settled"]["steps"]} == {
        "tone": 1, "lift": 1,
    }
    assert len(record["scan"]["digest"]) == 16
    assert [name for name, _ in record["outputs"]] == ["page 1-line.png", "page 1-web.png"]
    assert record["figures"]["look"]["paper"] == pytest.approx(232, abs=1)
    rows = [json.loads(line) for line in journal_of(out).read_text().splitlines()]
    assert rows[0]["run"]["versions"]["numpy"]


def test_a_line_cut_off_in_mid_write_costs_one_page(book, tmp_path, crew):
    out = tmp_path / "out"
    plans = planned(book, out)
    do(plans, out, crew)
    text = journal_of(out).read_bytes()
    journal_of(out).write_bytes(text[:-40])
    last = json.loads(text.splitlines()[-1])["page"]
    again = dict(zip([plan.page.path.name for plan in plans], do(plans, out, crew), strict=True))
    assert again.pop(Path(last).name) == "done"
    assert set(again.values()) == {"unchanged"}
    assert do(plans, out, crew) == ["unchanged"] * 4
    assert all(json.loads(line) for line in journal_of(out).read_bytes().splitlines())


@pytest.mark.parametrize("spoilt", [b"\xff\xfe\n", b"{}\n", b"[1]\n", b'{"page": 3}\n', b"\n",
                                    b'{"page": "x", "number": 1, "scan": {"size": "big"}}\n'])
def test_a_line_that_cannot_be_read_is_passed_over(book, tmp_path, crew, spoilt):
    out = tmp_path / "out"
    plans = planned(book, out)[:1]
    do(plans, out, crew)
    journal_of(out).write_bytes(spoilt + journal_of(out).read_bytes() + spoilt)
    with Journal(out) as journal:
        assert journal.is_done(plans[0])
        assert journal.record(plans[0].page)["number"] == 1


def test_two_runs_do_not_write_into_one_folder(tmp_path):
    with Journal(tmp_path), pytest.raises(Refused, match="another run is writing there"), \
            Journal(tmp_path):
        pass


def test_both_folders_may_move_together(book, tmp_path, crew):
    home = tmp_path / "home"
    home.mkdir()
    book.rename(home / "scans")
    do(planned(home / "scans", home / "out"), home / "out", crew)
    home.rename(tmp_path / "away")
    away = tmp_path / "away"
    assert do(planned(away / "scans", away / "out"), away / "out", crew) == ["unchanged"] * 4


def hear_interrupts() -> None:
    """As in a terminal: what a shell runs in the background is born deaf to Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


class Command:
    """``stetline replay`` in a process of its own, followed through its JSON lines."""

    def __init__(self, book: Path, out: Path, *words: str):
        write_list(out.parent / "list.json", STEPS)
        self.process = subprocess.Popen(
            [sys.executable, "-m", "app", "replay", str(out.parent / "list.json"), str(book),
             "--into", str(out), "--json", "--cores", "2", *words],
            cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            start_new_session=True, preexec_fn=hear_interrupts,  # noqa: PLW1509 - no threads yet
        )
        self.timer = threading.Timer(DEADLINE, self.process.kill)
        self.timer.start()

    def until(self, wanted: str) -> dict:
        """The first event of that kind."""
        for line in self.process.stdout:
            event = json.loads(line)
            if event["event"] == wanted:
                return event
        raise AssertionError(f"no {wanted}: {self.process.stderr.read()}")

    def end(self) -> tuple[int, str]:
        """Exit status and what was said on standard error."""
        _, said = self.process.communicate(timeout=DEADLINE)
        self.timer.cancel()
        return self.process.returncode, said


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_run_that_is_stopped_goes_on_where_it_was(tmp_path, how):
    pages = 24  # enough that a busy machine hears the signal before they end
    scans = draw_book(tmp_path / "scans", pages, shape=(1700, 1200))
    out = tmp_path / "out"
    stopped = Command(scans, out)
    first = stopped.until("page")
    if how == signal.SIGINT:
        os.killpg(stopped.process.pid, how)  # as a terminal does: everyone hears it
    else:
        stopped.process.send_signal(how)
    status, said = stopped.end()
    assert status == (130 if how == signal.SIGINT else -how)
    assert "Traceback" not in said
    if how == signal.SIGINT:
        assert not [name for name in contents(out) if ".part-" in name], "no half file"
    resumed = Command(scans, out)
    again = resumed.until("page")
    assert (again["page"], again["status"]) == (first["page"], "unchanged")
    end = resumed.until("end")
    assert end["failed"] == 0
    if how == signal.SIGINT:
        done = end["unchanged"]
        assert said == (
            f"stopped: {done} of {pages} pages are finished, {pages - done} left; "
            "the same command goes on from there, and nothing is half-written\n")
    assert resumed.end() == (0, "")
    assert sorted(contents(out)) == sorted(f"page {n}-line.png" for n in range(1, pages + 1))
    for name, data in contents(out).items():
        line = np.asarray(Image.open(io.BytesIO(data)))[..., 3]
        scan = np.asarray(Image.open(scans / name.replace("-line.png", ".tif")))
        assert (line == 255 - apply_table(tone_table(255, 40, 215), scan)).all()
