"""A data team's notebook: many visits at once, what they say together, and how far that hangs on the base rates.

Cells begin with `# %%`, so notebooks and editors can run it piece by piece. Run it whole beside a service:
`python examples/fleet_notebook.py`. All data is invented.
"""

# %% What there is: one reading set a line, as an export would have it
import json
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path

from feedproof_sdk import Assessment, Client, Failure
from feedproof_sdk.names import Fault

REQUESTS = Path(__file__).resolve().parent / "requests"
CABINS = 5

originals = [json.loads(path.read_bytes()) for path in sorted(REQUESTS.glob("*.json"))]


def export() -> Iterator[bytes]:
    """Give lines one at a time: a file of millions is read no faster than the service answers."""
    for cabin in range(CABINS):
        for visit in originals:
            yield json.dumps(visit | {"reference": f"INVENTED cabin-{cabin}"}).encode()
        yield b'{"readings": [{"kind": "voltage", "between": ["L1", "L3"], "value": "243 V"}]}'


# %% Assess: in order, in bounded memory, what is refused as a value in its place
client = Client()
answers: list[Assessment] = []
refused: list[Failure] = []
for outcome in client.assess_many(export()):
    if isinstance(outcome, Failure):
        refused.append(outcome)
    else:
        answers.append(outcome)
print(f"{len(answers)} assessed, {len(refused)} refused")

# %% What was refused, by reason: to be mended where the export is made
reasons = Counter(str(failure.error).splitlines()[-1].strip() for failure in refused)
for reason, count in reasons.most_common():
    print(f"{count:5d}  {reason}")

# %% Findings: sums of probabilities, not counts of best guesses
expected: dict[str, float] = defaultdict(float)
for answer in answers:
    for candidate in answer.candidates:
        expected[candidate.fault] += candidate.probability
print(f"\n{'fault':34s} {'expected':>8s} {'as finding':>10s}")
as_finding = Counter(answer.finding.fault for answer in answers)
for fault, visits in sorted(expected.items(), key=lambda item: -item[1]):
    print(f"{fault:34s} {visits:8.2f} {as_finding[fault]:10d}")

# %% How far that hangs on the base rates: the same visits, an open neutral ten times as common
base_rates = {entry.name: entry.base_rate for entry in client.faults().faults}
base_rates[Fault.OPEN_NEUTRAL] *= 10
again = client.assess_many(visit | {"base_rates": base_rates} for visit in originals)
print(f"\n{'visit':>5s} {'finding':34s} {'p':>6s} {'p, ten times':>12s}")
for number, (before, after) in enumerate(zip(answers, again, strict=False)):
    if isinstance(after, Failure):
        raise after.error
    now = next((c.probability for c in after.candidates if c.fault == before.finding.fault), 0.0)
    print(f"{number:5d} {before.finding.fault:34s} {before.finding.probability:6.3f} {now:12.3f}")

# %% Which model answered: keep it beside the figures
print(f"\nmodel {answers[0].model.version}, priors {answers[0].model.priors_digest[:12]}")
client.close()
