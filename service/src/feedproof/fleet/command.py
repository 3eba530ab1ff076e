"""The commands `feedproof fleet`, `fleet-rates`, `fleet-report`, `fleet-changes` and `fleet-schema`."""

import argparse
import importlib.util
import signal
import sys
import warnings
from collections.abc import Callable
from contextlib import closing, nullcontext
from pathlib import Path
from typing import Any

from feedproof.note.command import complain
from feedproof.settings import usable_cores

REFUSED_ROWS = 1
"""Exit status where all was done, but some rows were refused."""
UNUSABLE = 2
"""Exit status where what was given cannot be used."""
UNFINISHED = 3
"""Exit status where the run stopped before its end; the same command goes on."""

_STOPPING = (signal.SIGINT, signal.SIGTERM)
_NEEDED = ("duckdb", "matplotlib", "pyarrow", "scipy")


def add_commands(commands: Any) -> None:  # noqa: ANN401 - argparse has no public name for it
    """Add the commands to the parser of `feedproof`.

    Parameters
    ----------
    commands : argparse sub-parsers
        What `ArgumentParser.add_subparsers` gives.
    """
    _add_fleet(commands)
    writes = argparse.ArgumentParser(add_help=False)
    writes.add_argument("--overwrite", action="store_true", help="replace what is there")
    counts = argparse.ArgumentParser(add_help=False, parents=[writes])
    counts.add_argument("source", metavar="FILE", help="assessments: Parquet, CSV or NDJSON")
    counts.add_argument(
        "--by", metavar="COLUMN", action="append", default=[], help="count, or estimate, for each of its values too"
    )
    _add_rates(commands, counts)

    report = commands.add_parser(
        "fleet-report", parents=[counts], help="one page and tables of assessments that `feedproof fleet` wrote"
    )
    report.add_argument("--part", metavar="COLUMN", help="which part was replaced or ordered, where one was")
    report.add_argument("--outlet", metavar="COLUMN", help="which outlet was visited; one name in two groups is two")
    report.add_argument("--time", metavar="COLUMN", help="when it was visited")
    report.add_argument("--title", default="Fleet report", help="of the page")
    report.add_argument("--rejects", metavar="FILE", help="what the run refused; FILE.rejects.csv where it is there")
    report.set_defaults(run=_guarded(_report))

    changes = commands.add_parser(
        "fleet-changes", parents=[writes], help="what differs between two runs, of two models say"
    )
    for name in ("before", "after"):
        changes.add_argument(name, metavar=name.upper(), help="assessments: Parquet, CSV or NDJSON")
    changes.set_defaults(run=_guarded(_changes))
    for each in (report, changes):
        each.add_argument(
            "folder", metavar="FOLDER", type=Path, help="to write report.html and a CSV of each table into"
        )

    schema = commands.add_parser("fleet-schema", help="print the columns that go in (nested, long, wide) or come out")
    schema.add_argument("form", choices=("nested", "long", "wide", "assessed"))
    schema.set_defaults(run=_guarded(_schema))


def _add_fleet(commands: Any) -> None:  # noqa: ANN401
    fleet = commands.add_parser(
        "fleet",
        help="assess a file of reading sets over all cores",
        description="Assess a file of reading sets: Parquet, CSV (long or wide form) or NDJSON, by the endings of the"
        " names. A run that was stopped goes on when the same command is given again.",
        epilog="exit status: 0 all sets assessed; 1 some rows refused, see the rejects file; 2 not usable;"
        " 3 stopped before the end",
    )
    fleet.add_argument("source", metavar="IN", help="file, or a folder of Parquet files; s3://, gs://, abfs:// too")
    fleet.add_argument("target", metavar="OUT", help="file to write")
    fleet.add_argument("--rejects", metavar="FILE", help="refused rows; OUT.rejects.csv where left out")
    fleet.add_argument(
        "--max-rejects", metavar="N", type=int, dest="most_rejects", help="stop when more sets are refused"
    )
    fleet.add_argument(
        "--keep", metavar="COLUMN", action="append", default=[], help="column to carry along; '*': all of your own"
    )
    fleet.add_argument("--ignore", metavar="COLUMN", action="append", default=[], help="column to leave unread")
    fleet.add_argument("--where", metavar="SQL", help="which sets, by row, reference and kept columns")
    fleet.add_argument("--sample", metavar="SHARE", type=float, default=1.0, help="a share of them, always the same")
    there = fleet.add_mutually_exclusive_group()
    there.add_argument(
        "--append",
        action="store_true",
        help="add to OUT, and to the rejects, the sets whose reference OUT does not have",
    )
    there.add_argument("--overwrite", action="store_true", help="replace what is there")
    fleet.add_argument(
        "--base-rates", metavar="FILE", type=Path, dest="rates", help="from `feedproof fleet-rates`, or a JSON table"
    )
    fleet.add_argument(
        "--store", metavar="FILE", help="keep answers there for the next run; sets that read the same need no other"
    )
    fleet.add_argument(
        "--workers",
        metavar="N",
        type=int,
        default=usable_cores(),
        help="processes; as many as there are cores where left out",
    )
    fleet.add_argument("--quiet", action="store_true", help="no progress")
    fleet.set_defaults(run=_guarded(_fleet))


def _add_rates(commands: Any, counts: argparse.ArgumentParser) -> None:  # noqa: ANN401
    rates = commands.add_parser(
        "fleet-rates",
        parents=[counts],
        help="estimate base rates of the faults from assessments that `feedproof fleet` wrote",
        description="Estimate base rates of the faults from assessments, and say in words what they stand on. A rate"
        " can be told only from readings that can show the fault: 10 000 unplugged outlets read with a high-impedance"
        " meter say nothing of how often neutrals are open, and a model that is a little wrong about them would name a"
        " small number with great confidence. So each fault is estimated from the layouts of readings that move its"
        " odds by twenty to one or more in a sound set; where there are none, it keeps its published ratio to a"
        " sound supply. Intervals are from the evidence alone, 0 to 1 where there is none, and wider where layouts"
        " disagree. No fault is fed back as rarer than published, or than the interval's upper end where that is lower,"
        " or than a tenth of the published rate."
        " Rates hold for visits like these, which are not outlets at random.",
    )
    rates.add_argument(
        "target", metavar="OUT", type=Path, help="JSON to write; `feedproof fleet --base-rates` takes it"
    )
    rates.add_argument("--level", type=float, default=0.9, help="of the intervals (0.9)")
    rates.add_argument(
        "--prior-sets", type=float, default=10.0, help="how many sets the model's own rates count for (10)"
    )
    rates.add_argument(
        "--every-set", action="store_true", help="believe the model of readings that can hardly show a fault, too"
    )
    rates.set_defaults(run=_guarded(_rates))


def _guarded(work: Callable[[argparse.Namespace], int]) -> Callable[[argparse.Namespace], int]:
    """The work of a command, with what it cannot use told on one line."""

    def run(arguments: argparse.Namespace) -> int:
        for module in _NEEDED:
            if importlib.util.find_spec(module) is None:
                return complain(f'{module} is not installed; pip install "feedproof[fleet]"', UNUSABLE)
        import duckdb  # noqa: PLC0415

        warnings.formatwarning = lambda message, *_, **__: f"feedproof: {message}\n"
        try:
            return work(arguments)
        except (ValueError, OSError, duckdb.Error) as error:
            return complain(str(error), UNUSABLE)

    return run


def _made(kind: Any, arguments: argparse.Namespace, **other: object) -> Any:  # noqa: ANN401
    """A structure of the options that are named as its fields are."""
    return kind(**{name: getattr(arguments, name) for name in kind.__struct_fields__} | other)


def _fleet(arguments: argparse.Namespace) -> int:
    # Imported here and below, so that the other commands work without the extra.
    from feedproof.fleet.job import Job  # noqa: PLC0415
    from feedproof.fleet.pool import Unfinished  # noqa: PLC0415
    from feedproof.fleet.progress import Progress  # noqa: PLC0415
    from feedproof.fleet.ratebook import read_ratebook  # noqa: PLC0415
    from feedproof.fleet.run import run  # noqa: PLC0415

    rejects = arguments.rejects or f"{arguments.target}.rejects.csv"
    rates = None if arguments.rates is None else read_ratebook(arguments.rates.read_bytes())
    job = _made(Job, arguments, rejects=rejects, rates=rates)
    for number in _STOPPING:
        # Signals that the parent had ignored stay ignored, as a shell sets them for background jobs.
        if signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _stop)
    try:
        with nullcontext() if arguments.quiet else closing(Progress()) as progress:
            summary = run(job, progress)
    except (Unfinished, KeyboardInterrupt) as error:
        return complain(str(error), UNFINISHED)
    again = f", {summary.resumed} of them by an earlier run" if summary.resumed else ""
    told = f"{summary.sets} sets in {summary.seconds:.1f} s{again}, {summary.computed} computed"
    sys.stderr.write(f"{told}; {job.target}\n")
    if summary.refused:
        sys.stderr.write(f"{summary.refused} refused; {rejects}\n")
        return REFUSED_ROWS
    return 0


def _stop(number: int, _frame: object) -> None:
    # Further signals are ignored while the run is stopping.
    for each in _STOPPING:
        signal.signal(each, signal.SIG_IGN)
    raise KeyboardInterrupt(f"interrupted by {signal.Signals(number).name}; the same command goes on from here")


def _rates(arguments: argparse.Namespace) -> int:
    from feedproof.fleet.files import place  # noqa: PLC0415
    from feedproof.fleet.ratebook import write_ratebook  # noqa: PLC0415
    from feedproof.fleet.rates import estimate_file  # noqa: PLC0415

    if not 0.0 < arguments.level < 1.0 or arguments.prior_sets < 0.0:
        raise ValueError("--level lies between 0 and 1, --prior-sets is at least 0")
    if place(arguments.target) == place(arguments.source):
        raise ValueError("OUT is the file of assessments itself")
    if arguments.target.exists() and not arguments.overwrite:
        raise ValueError(f"{arguments.target} is already there; --overwrite replaces it")
    options = {name: getattr(arguments, name) for name in ("by", "level", "prior_sets", "every_set")}
    book = estimate_file(arguments.source, **options)
    arguments.target.write_bytes(write_ratebook(book))
    sys.stdout.write(book.explained())
    return 0


def _report(arguments: argparse.Namespace) -> int:
    from feedproof.fleet.files import exists, read_rows  # noqa: PLC0415
    from feedproof.fleet.report import ReportOptions, report, write_report  # noqa: PLC0415

    rejects = arguments.rejects or f"{arguments.source}.rejects.csv"
    refused = sum(1 for _ in read_rows(rejects)) if arguments.rejects or exists(rejects) else None
    made = report(arguments.source, _made(ReportOptions, arguments), refused)
    write_report(made, arguments.folder, overwrite=arguments.overwrite)
    return 0


def _changes(arguments: argparse.Namespace) -> int:
    from feedproof.fleet.compare import compare  # noqa: PLC0415
    from feedproof.fleet.report import Report, write_report  # noqa: PLC0415

    made = Report(compare(arguments.before, arguments.after), "What differs between two runs")
    write_report(made, arguments.folder, overwrite=arguments.overwrite)
    return 0


def _schema(arguments: argparse.Namespace) -> int:
    from feedproof.fleet.schema import FORMS, describe  # noqa: PLC0415

    sys.stdout.write(describe(FORMS[arguments.form]))
    return 0
