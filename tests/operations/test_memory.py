"""What several processes of the service take of a machine."""

from pathlib import Path

import pytest

from benchmarks.parts.workers import memory, serving
from support.operated_service import Report, running

pytestmark = [
    pytest.mark.slow,
    pytest.mark.alone,
    pytest.mark.skipif(not Path("/proc/self/smaps_rollup").exists(), reason="this system does not tell"),
]

MOST = 200.0
"""Bound on a process, stated in the manual [MB]."""


def test_processes_share_the_engine(tmp_path: Path, visit: bytes, report: Report) -> None:
    with running(tmp_path, processes="2") as service:
        for _ in range(100):
            assert service.post(visit)[0] == 200
        found = [memory(pid) for pid in serving(service.port, service.process.pid)]
    assert len(found) == 2
    resident, own = (max(each[name] for each in found) for name in ("resident", "own"))
    report(f"{resident:.0f} MB resident, of which {own:.0f} MB shared with none")
    assert resident <= MOST
    assert own <= 0.5 * MOST
