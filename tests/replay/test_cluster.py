"""More than one machine: a real scheduler, two worker processes, one of them killed in mid-run."""

import os
import signal
import subprocess
import sys
import threading
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import pytest

from app.replay.crew import LocalCrew
from app.replay.journal import Journal
from app.replay.printing import Printing, Wide
from app.replay.run import Moved, run
from app.replay.worker import Task
from tests.replay.conftest import contents, draw_book, outcomes, planned

pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")

from app.replay.cluster import ClusterCrew, Tls, _with_whole_paths

ROOT = Path(__file__).parents[2]


class Machine:
    """A process of the cluster, from its command line; ended with the test."""

    def __init__(self, *words: str, until: str):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "distributed.cli." + words[0], *words[1:]], cwd=ROOT,
            stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True, start_new_session=True,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
        )
        self.said = ""
        for line in self.process.stderr:
            self.said += line
            if until in line:
                break
        self.drain = threading.Thread(target=self.process.stderr.read, daemon=True)
        self.drain.start()
        self.address = self.said.split()[-1]

    def kill(self):
        """As the system does where memory runs out."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def end(self):
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        self.drain.join()
        self.process.stderr.close()


@pytest.fixture
def cluster(tmp_path):
    with ExitStack() as stack:
        def start(*words, until):
            machine = Machine(*words, until=until)
            stack.callback(machine.end)
            assert until in machine.said, machine.said
            return machine

        address = start("dask_scheduler", "--port", "0", "--no-dashboard", "--host", "127.0.0.1",
                        until="Scheduler at:").address
        yield address, [
            start("dask_worker", address, "--no-nanny", "--nthreads", "1", "--name", name,
                  "--no-dashboard", "--local-directory", str(tmp_path), until="Registered to:")
            for name in ("one", "two")
        ]


@pytest.mark.filterwarnings("ignore")  # the library's own, while workers come and go
def test_a_worker_that_is_lost_costs_no_page(tmp_path, cluster):
    address, (_, victim) = cluster
    scans = draw_book(tmp_path / "scans", 12, shape=(1500, 1100))
    out = tmp_path / "out"
    ends = []
    with Journal(out) as journal, ClusterCrew(address) as crew:
        assert crew.size == 2
        for event in run(planned(scans, out), crew, journal=journal):
            if isinstance(event, Moved):
                continue
            if not ends:
                victim.kill()
            ends.append(event)
        assert [end.faults for end in ends] == [()] * 12
        again = outcomes(run(planned(scans, out), crew, journal=journal))
        assert [end.status for end in again] == ["unchanged"] * 12
    with LocalCrew(2) as here:
        outcomes(run(planned(scans, tmp_path / "here"), here))
    assert contents(out) == contents(tmp_path / "here"), "the same bytes"


def test_tls_files_are_handed_on(tmp_path):
    assert Tls().security() is None
    security = Tls(tmp_path / "ca.pem", tmp_path / "cert.pem", tmp_path / "key.pem").security()
    assert security.require_encryption
    assert security.tls_ca_file == str(tmp_path / "ca.pem")
    assert security.tls_client_cert == str(tmp_path / "cert.pem")
    assert security.tls_client_key == str(tmp_path / "key.pem")


def test_another_machine_is_told_how_the_page_is_printed(book, tmp_path):
    plan = planned(book, tmp_path / "out")[0]
    request = replace(plan, printing=Printing(size=Wide(60)), left_page=True)
    sent = _with_whole_paths(Task(0, request)).request
    assert (sent.printing, sent.left_page) == (request.printing, True)
