"""Two runs over the same sets side by side: what another model, or other base rates, changes."""

from feedproof.fleet.outlets import HURTS
from feedproof.fleet.tables import Table, assessments, table_of

_COMPARED_COLUMNS = ("finding_place", "finding_conductor", "determination", "disposition")


def compare(before: object, after: object) -> tuple[Table, ...]:
    """What differs between two runs, set by set by its reference.

    Parameters
    ----------
    before, after : Path, str, or Arrow data
        What `feedproof fleet` wrote.

    Returns
    -------
    tuple of Table
        How many sets went from what to what, and each set that changed: first those that are stopped no more, or that
        were stopped and are not in the later run; then those that are stopped now; then the others by how far their
        probability of a fault moved, and last what else only one run has.

    Raises
    ------
    ValueError
        If a column is missing, or no reference is in both.
    """
    base = assessments(before)
    told = ", ".join((*_COMPARED_COLUMNS, "model_version", "supply_fault_probability", "caution_codes"))
    own = (
        "SELECT true AS met, reference, row_number() OVER (PARTITION BY reference ORDER BY row) AS nth,"
        f" {told} FROM counted WHERE reference IS NOT NULL"
    )
    base.execute(f"CREATE TABLE old AS {own}")
    base.register("later", assessments(after).sql(own).to_arrow_table())
    told = ", ".join(f"old.{name} AS old_{name}, later.{name} AS new_{name}" for name in _COMPARED_COLUMNS)
    both = ", ".join(f"old_{name}, new_{name}" for name in _COMPARED_COLUMNS)
    differ = " OR ".join(f"old_{name} IS DISTINCT FROM new_{name}" for name in _COMPARED_COLUMNS)
    base.execute(
        f"CREATE TABLE pairs AS SELECT reference, {told}, old.model_version AS old_model, later.model_version AS"
        " new_model, old.supply_fault_probability AS old_fault, later.supply_fault_probability AS new_fault,"
        " list_has_any(string_split(coalesce(old.caution_codes, later.caution_codes, ''), ' '), $hurts) AS hurt,"
        " CASE WHEN old.met IS NULL THEN 'only after' WHEN later.met IS NULL THEN 'only before'"
        " WHEN old_disposition = 'stop_and_refer' AND new_disposition <> 'stop_and_refer' THEN 'stopped no more'"
        " WHEN new_disposition = 'stop_and_refer' AND old_disposition <> 'stop_and_refer' THEN 'stopped now'"
        f" WHEN {differ} THEN 'other' END AS change, 'stop_and_refer' = coalesce(old_disposition, new_disposition) AS"
        " stopped FROM old FULL JOIN later USING (reference, nth)",
        {"hurts": list(HURTS)},
    )
    if not base.sql("FROM pairs WHERE old_model IS NOT NULL AND new_model IS NOT NULL LIMIT 1").fetchall():
        raise ValueError("no reference is in both")
    steps = "old_finding_place, old_determination, new_finding_place, new_determination"
    counted = table_of(
        base,
        f"SELECT old_model, new_model, {steps}, count(*) AS sets FROM pairs GROUP BY ALL ORDER BY sets DESC, {steps}",
        name="changes",
        title="From what to what",
        note="Sets by their reference; where one side is empty, that run does not have the set: it was refused there,"
        " or not read. Sets without a reference are left out.",
    )
    changed = table_of(
        base,
        f"SELECT change, reference, {both}, old_fault, new_fault FROM pairs"
        " WHERE change IS NOT NULL ORDER BY CASE WHEN change = 'stopped no more' THEN 1 WHEN change = 'only before' AND"
        " stopped THEN 2 WHEN change = 'stopped now' THEN 3 WHEN change = 'only after' AND stopped THEN 4 WHEN change ="
        " 'other' THEN 5 ELSE 6 END, hurt DESC, abs(new_fault - old_fault) DESC, change DESC, reference",
        name="changed",
        title="Sets that changed, or that one run does not have",
        note="Those that are stopped no more, and those stopped before that the new run does not have, come first: look"
        " at them before anyone goes by the new run.",
    )
    return counted, changed
