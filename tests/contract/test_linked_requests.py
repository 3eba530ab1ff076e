"""Chains of requests along the links of the published document: what one answer gives, the next request takes.

The generator's stateful phase, against a live server over a socket, with all of its checks and ours.
"""

import json
from collections.abc import Iterator, Sequence
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.errors import Flaky
from schemathesis.generation.stateful.state_machine import StepInput, StepOutput

from feedproof.api.openapi import document
from feedproof.warm_up import self_test
from support.generated import check, is_valid, mend, schema_of_all
from support.live_service import live_service

LINKS: dict[str, dict[str, Any]] = document()["components"]["links"]
SOURCES: dict[str, list[str]] = {
    about["operationId"]: [link["$ref"].rpartition("/")[2] for link in about["responses"]["200"]["links"].values()]
    for methods in document()["paths"].values()
    for about in methods.values()
    if "links" in about["responses"]["200"]
}

CHAINS = settings(
    stateful_step_count=4,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    database=None,
)


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    self_test()  # Compiling takes longer than the generator waits for an answer.
    with live_service() as address:
        yield address


def link_of(step: StepInput) -> str | None:
    """Name of the link that led to a request, where one did and its values were taken over into a valid request."""
    if step.transition is None or not step.is_applied or not is_valid(step.case):
        return None
    # "POST /v1/simulations -> [200] SimulatedReadingsAssessed -> POST /v1/assessments"
    return step.transition.id.split("] ")[1].split(" -> ")[0]


def test_every_link_is_of_some_operation_and_leads_to_one() -> None:
    published = {about["operationId"] for methods in document()["paths"].values() for about in methods.values()}
    assert {link for links in SOURCES.values() for link in links} == set(LINKS)
    assert {link["operationId"] for link in LINKS.values()} <= published


def follow(source: str, address: str, schema: Any, phases: Sequence[Phase] = tuple(Phase)) -> set[str]:
    """Go along the links of one operation, and give those that were gone along."""
    targets = [LINKS[link]["operationId"] for link in SOURCES[source]]
    machine: Any = schema.include(operation_id=[source, *targets]).as_state_machine()
    followed = set()

    class Linked(machine):  # type: ignore[misc]
        def get_call_kwargs(self, case: Any) -> dict[str, Any]:  # noqa: ARG002
            return {"base_url": address}

        def step(self, input: StepInput) -> StepOutput:  # noqa: A002
            link = link_of(input)
            mend(input.case)
            output: StepOutput = super().step(input)
            check(output.case, output.response)
            if link is not None:
                followed.add(link)
                # A catalogue may be asked for with a generated If-None-Match as well, and `*` is always matched.
                wanted = {304} if link.endswith("StillTheSame") else {200, 304}
                assert output.response.status_code in wanted, link
            return output

    # A link with a body is seldom gone along: the request before it must hold all that the link takes from it.
    # More chains are gone along only where the first have not met every link.
    for examples in (30, 90, 270):
        Linked.run(settings=settings(CHAINS, max_examples=examples, phases=phases))
        if set(SOURCES[source]) <= followed:
            break
    return followed


@pytest.mark.parametrize(
    "source", [pytest.param(name, marks=[pytest.mark.slow] if name == "simulate" else []) for name in SOURCES]
)
def test_links_lead_on(source: str, address: str) -> None:
    assert set(SOURCES[source]) <= follow(source, address, schema_of_all())


@pytest.mark.parametrize(
    ("link", "cut", "put"),
    [
        ("FaultCatalogueStillTheSame", "$response.header.ETag", "$response.header.Vary"),
    ],
)
def test_a_link_that_leads_astray_is_found(link: str, cut: str, put: str, address: str) -> None:
    (source,) = (name for name, links in SOURCES.items() if link in links)
    told = json.dumps(LINKS[link])
    assert cut in told
    spoiled = json.dumps(document()).replace(told, told.replace(cut, put))
    with pytest.raises((AssertionError, BaseExceptionGroup, Flaky)):
        follow(source, address, schema_of_all(spoiled), (Phase.generate,))
