"""Two runs over the same sets side by side: what another model, or other base rates, changes."""

from feedproof.fleet.summary import HURTS
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
        How many sets went from what to what, and each set that changed: first those that are stopped no more, then
        those that are stopped now, then the others by how far their probability of a fault moved.

    Raises
    ------
    ValueError
        If a column is missing, or no reference is in both.
    """
    base = assessments(before)
    told = ", ".join((*_COMPARED_COLUMNS, "model_version", "supply_fault_probability", "caution_codes"))
    own = (
        f"SELECT reference, row_number() OVER (PARTITION BY reference ORDER BY row) AS nth, {told} FROM counted"
        " WHERE reference IS NOT NULL"
    )
    base.execute(f"CREATE TABLE old AS {own}")
    base.register("later", assessments(after).sql(own).to_arrow_table())
    told = ", ".join(f"old.{name} AS old_{name}, later.{name} AS new_{name}" for name in _COMPARED_COLUMNS)
    base.execute(
        f"CREATE TABLE pairs AS SELECT old.reference, {told}, old.model_version AS old_model, later.model_version AS"
        " new_model, old.supply_fault_probability AS old_fault, later.supply_fault_probability AS new_fault,"
        " list_has_any(string_split(coalesce(old.caution_codes, ''), ' '), $hurts) AS hurt"
        " FROM old JOIN later USING (reference, nth)",
        {"hurts": list(HURTS)},
    )
    both = ", ".join(f"old_{name}, new_{name}" for name in _COMPARED_COLUMNS)
    differ = " OR ".join(f"old_{name} IS DISTINCT FROM new_{name}" for name in _COMPARED_COLUMNS)
    steps = "old_finding_place, old_determination, new_finding_place, new_determination"
    counted = table_of(
        base,
        f"SELECT old_model, new_model, {steps}, count(*) AS sets FROM pairs GROUP BY ALL ORDER BY sets DESC, {steps}",
        name="changes",
        title="From what to what",
        note="Sets that are in both runs, by their reference.",
    )
    if not counted.rows:
        raise ValueError("no reference is in both")
    changed = table_of(
        base,
        "SELECT CASE WHEN old_disposition = 'stop_and_refer' AND new_disposition <> 'stop_and_refer' THEN"
        " 'stopped no more' WHEN new_disposition = 'stop_and_refer' AND old_disposition <> 'stop_and_refer' THEN"
        f" 'stopped now' ELSE 'other' END AS change, reference, {both},"
        f" old_fault, new_fault FROM pairs WHERE {differ} ORDER BY CASE change WHEN 'stopped no more' THEN 1"
        " WHEN 'stopped now' THEN 2 ELSE 3 END, hurt DESC, abs(new_fault - old_fault) DESC, reference",
        name="changed",
        title="Sets that changed",
        note="Those that are stopped no more come first: look at them before anyone goes by the new run.",
    )
    return counted, changed
