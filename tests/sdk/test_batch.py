"""Many reading sets: cut into pieces, resumed where they were cut, and never more of them in memory than said."""

import itertools
import math
import threading
import time
from collections.abc import Iterable, Iterator
from typing import Any

import msgspec
import pytest

from feedproof_sdk import Assessment, Client, Failure, ReadingSet, ReadingSetLike, Visit, errors
from feedproof_sdk._batch import BYTES_AT_ONCE, IN_FLIGHT, LINES_AT_ONCE, Cutter, Piece, Progress
from feedproof_sdk._settings import settle
from support.bad_line import bad_line
from support.gateway import Gateway
from support.service_process import LiveService

REFUSED = b'{"readings": 3}'


def visits(count: int) -> Iterator[dict[str, object]]:
    """Small invented visits, each with its number as reference."""
    for number in range(count):
        yield {"reference": str(number), "readings": [], "supply": {"system": "single_phase_120"}}


def cut(sets: Iterable[ReadingSetLike]) -> list[Piece]:
    cutter = Cutter()
    full = [cutter.add(one) for one in sets]
    return [*filter(None, full), cutter.piece]


def references(outcomes: list[Any]) -> list[str | None]:
    return [outcome.reference for outcome in outcomes]


def test_order_is_kept_and_each_set_has_its_answer(client: Client) -> None:
    count = 2 * IN_FLIGHT * LINES_AT_ONCE + 3
    answers = list(client.assess_many(visits(count)))
    assert references(answers) == [str(number) for number in range(count)]


def test_refused_sets_come_back_as_values_in_their_place(client: Client, unplugged: Visit) -> None:
    given: list[ReadingSetLike] = [
        unplugged,
        REFUSED,
        {"readings": [{"value": math.nan}]},
        b"  ",
        b"{\n}",
        unplugged,
        b'{\r\n"readings":\n[]}',
    ]
    outcomes = list(client.assess_many(given))
    kinds = [type(outcome.error) if isinstance(outcome, Failure) else Assessment for outcome in outcomes]
    invalid = errors.InvalidReadingSet
    assert kinds == [Assessment, invalid, errors.BadQuantity, invalid, invalid, Assessment, Assessment]
    for place, outcome in enumerate(outcomes):
        if isinstance(outcome, Failure):
            assert outcome.index == place
            assert outcome.reading_set is given[place]
    failure = outcomes[1]
    assert isinstance(failure, Failure)
    assert isinstance(failure.error, errors.InvalidReadingSet)
    assert [fault.pointer for fault in failure.error.errors] == ["/readings"]


def test_each_answer_has_the_id_of_its_request(client: Client) -> None:
    first, second = (outcome for outcome in client.assess_many(visits(2)) if isinstance(outcome, Assessment))
    assert first.request_id is not None
    assert first.request_id == second.request_id
    assert msgspec.json.decode(first.response.content)["reference"] == "0"


def test_no_sets_give_no_answers_and_no_request() -> None:
    assert list(Client("http://127.0.0.1:1").assess_many([])) == []


def test_a_file_of_lines_is_an_iterable_of_sets(client: Client, tmp_path: Any) -> None:
    file = tmp_path / "sets.ndjson"
    file.write_bytes(b"".join(msgspec.json.encode(visit) + b"\n" for visit in visits(5)))
    with file.open("rb") as lines:
        assert references(list(client.assess_many(lines))) == ["0", "1", "2", "3", "4"]


@pytest.mark.parametrize("options", [{"in_flight": 0}, {"patience": 0.0}, {"patience": math.inf}], ids=str)
def test_options_that_make_no_sense_are_refused(client: Client, options: dict[str, Any]) -> None:
    with pytest.raises(errors.BadSetting):
        next(client.assess_many([], **options))


def test_what_the_iterable_raises_comes_after_the_answers_to_all_before_it(client: Client) -> None:
    def broken() -> Iterator[dict[str, object]]:
        yield from visits(LINES_AT_ONCE + 5)
        raise OSError("the disk is gone")

    answered: list[Assessment | Failure] = []
    with pytest.raises(OSError, match="the disk is gone"):
        answered += client.assess_many(broken())
    assert references(answered) == [str(number) for number in range(LINES_AT_ONCE + 5)]


def test_no_more_is_taken_than_is_under_way(client: Client) -> None:
    taken = itertools.count()
    last = -1

    def counted() -> Iterator[dict[str, object]]:
        nonlocal last
        for visit in visits(100 * LINES_AT_ONCE):
            last = next(taken)
            yield visit

    answers = client.assess_many(counted(), in_flight=2)
    for answered in range(3 * LINES_AT_ONCE):
        next(answers)
        # Two pieces are under way, and the cutter holds one set of the next.
        assert last - answered <= 2 * LINES_AT_ONCE + 1
    answers.close()


def test_a_reader_that_stops_leaves_no_threads_behind(client: Client) -> None:
    def ours() -> list[threading.Thread]:
        return [thread for thread in threading.enumerate() if thread.name.startswith("feedproof")]

    answers = client.assess_many(visits(1000))
    next(answers)
    assert ours()
    answers.close()
    deadline = time.monotonic() + 30
    while ours():
        assert time.monotonic() < deadline
        time.sleep(0.05)


def test_several_requests_are_under_way_at_once(service: LiveService) -> None:
    with bad_line(service.port) as line, Client(line.url) as client:
        assert len(list(client.assess_many(visits(4 * LINES_AT_ONCE), in_flight=3))) == 4 * LINES_AT_ONCE
        assert line.connections == 3


def test_a_cut_line_costs_only_what_was_not_answered(service: LiveService) -> None:
    sets = list(visits(LINES_AT_ONCE))
    with bad_line(service.port) as line:
        # Before a byte; then three times, each time somewhere within the lines, which come packed.
        line.cut_after = [0, 900, 1_100, 1_300]
        answers = list(Client(line.url).assess_many(sets, in_flight=1))
        assert references(answers) == [str(number) for number in range(len(sets))]
        assert line.connections == 5


def test_a_service_that_is_killed_and_started_again_is_waited_for(tmp_path: Any, unplugged: Visit) -> None:
    live = LiveService(tmp_path / "log", log_level="error", warm_up="false")
    try:
        live.start()
        live.wait()
        answers = Client(live.url).assess_many(itertools.repeat(unplugged, 150), in_flight=2)
        read = [next(answers) for _ in range(40)]
        live.kill()
        restart = threading.Timer(0.5, live.start)
        restart.start()
        read += answers
        restart.join()
    finally:
        live.stop()
    assert len(read) == 150
    assert len(set(read)) == 1


def test_a_service_that_stays_away_ends_the_batch_when_patience_does(tmp_path: Any) -> None:
    live = LiveService(tmp_path / "log", log_level="error", warm_up="false")
    try:
        live.start()
        live.wait()
        answers = Client(live.url).assess_many(visits(1000), patience=3.0, in_flight=2)
        read = [next(answers) for _ in range(10)]
        live.kill()
        with pytest.raises(errors.ConnectionFailed):
            read += answers
    finally:
        live.stop()
    assert 10 <= len(read) < 1000
    assert references(read) == [str(number) for number in range(len(read))]


def test_a_silent_service_ends_the_batch_when_patience_does(service: LiveService) -> None:
    with bad_line(service.port) as line:
        line.silence = 30.0
        begin = time.monotonic()
        with pytest.raises(errors.TimedOut):
            list(Client(line.url).assess_many(visits(3), patience=1.0))
        assert time.monotonic() - begin < 10.0


def test_a_batch_that_is_refused_as_a_whole_is_raised(elsewhere: Gateway) -> None:
    elsewhere.will_answer(415)
    with pytest.raises(errors.NotNegotiated):
        list(Client(elsewhere.url).assess_many(visits(3)))


def test_an_overloaded_service_is_asked_again(elsewhere: Gateway, client: Client) -> None:
    content = b"".join(client.assess(visit).response.content + b"\n" for visit in visits(3))
    elsewhere.will_answer(503, Retry_After="0")
    elsewhere.will_answer(200, content)
    answers = list(Client(elsewhere.url).assess_many(visits(3)))
    assert references(answers) == ["0", "1", "2"]
    assert len(elsewhere.requests) == 2


def test_a_last_line_without_its_break_counts_and_half_a_line_does_not(elsewhere: Gateway, client: Client) -> None:
    lines = [client.assess(visit).response.content for visit in visits(3)]
    elsewhere.will_answer(200, lines[0] + b"\n" + lines[1][:-1])
    elsewhere.will_answer(200, lines[1] + b"\n" + lines[2])
    answers = list(Client(elsewhere.url).assess_many(visits(3)))
    assert references(answers) == ["0", "1", "2"]
    assert elsewhere.requests[1][3].count(b"\n") == 2


@pytest.mark.parametrize("content", [b'{"x": 1}\n' * 3, b"<html>\n" * 3])
def test_lines_of_another_server_are_failures(elsewhere: Gateway, content: bytes) -> None:
    elsewhere.will_answer(200, content)
    outcomes = list(Client(elsewhere.url).assess_many(visits(3)))
    assert [type(outcome.error) for outcome in outcomes if isinstance(outcome, Failure)] == [
        errors.UnreadableAnswer
    ] * 3


def test_answers_that_do_not_belong_to_what_was_sent_end_the_batch(elsewhere: Gateway, client: Client) -> None:
    (answer,) = (client.assess(visit).response.content for visit in visits(1))
    problem = b'{"type":"t","title":"t","status":422,"detail":"d","instance":"i","line":3}'
    elsewhere.will_answer(200, answer + b"\n" + problem + b"\n")
    with pytest.raises(errors.UnreadableAnswer, match="line 2 of the answer is about line 3"):
        list(Client(elsewhere.url).assess_many(visits(2)))
    elsewhere.answers.clear()
    elsewhere.will_answer(200, (answer + b"\n") * 3)
    with pytest.raises(errors.UnreadableAnswer, match="more lines came back than were sent"):
        list(Client(elsewhere.url).assess_many(visits(2)))


def test_pieces_are_bounded_by_lines_and_by_bytes() -> None:
    small, large = b"1" * 10, b"2" * 20_000
    assert [len(piece.lines) for piece in cut([small] * 70)] == [32, 32, 6]
    assert [len(piece.lines) for piece in cut([large] * 7)] == [3, 3, 1]
    assert [len(piece.lines) for piece in cut([small, b"3" * 2 * BYTES_AT_ONCE, small])] == [1, 1, 1]
    for piece in cut([small, large] * 100):
        assert piece.size == sum(len(line.content) + 1 for line in piece.lines) <= BYTES_AT_ONCE
    assert [line.index for piece in cut([small] * 70) for line in piece.lines] == list(range(70))
    assert [piece.lines for piece in cut([])] == [[]]


def test_an_answer_may_be_cut_anywhere(client: Client) -> None:
    """Whatever the sizes in which the bytes arrive, the lines come out the same."""
    lines = [client.assess(visit).response.content for visit in visits(3)]
    stream = b"\n".join(lines) + b"\n"
    for size in (1, 7, 1000, len(stream)):
        (piece,) = cut(visits(3))
        progress = Progress(piece, settle(), 10.0)
        progress.send()
        for begin in range(0, len(stream), size):
            progress.take(stream[begin : begin + size])
        assert references(progress.outcomes) == ["0", "1", "2"]
        assert progress.done
        progress.end()
        assert len(progress.outcomes) == 3


def test_sets_are_sent_as_they_are_given_but_on_one_line() -> None:
    (piece,) = cut([ReadingSet(readings=()), {"readings": [], "reference": "Ω"}, b'{\n "readings": [\r\n]}\n', b""])
    assert [line.content for line in piece.lines] == [
        b'{"readings":[]}',
        '{"readings": [], "reference": "Ω"}'.encode(),
        b'{  "readings": [  ]}',
        b"null",
    ]
    assert Progress(piece, settle(), 1.0).send().content == b"".join(line.content + b"\n" for line in piece.lines)
